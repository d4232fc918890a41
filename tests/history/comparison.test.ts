import { expect, test } from 'vitest';
import type { SessionComparison } from '../../shared/src/index.ts';
import { sessionComparison } from '../../server/src/history/comparison.ts';
import type { TrialDifference } from '../../server/src/history/session-difference.ts';

const session = (id: number, difference: number, half: number, changes: Partial<TrialDifference> = {}) => ({
  ...{ sessionId: `s${id}`, sessionUtcMs: id, version: 'v2', leftN: 9, rightN: 9, difference },
  ci95: [difference - half, difference + half] as [number, number],
  placementUncertainty: 1 as number | null,
  ...changes,
});
const compare = (trials: TrialDifference[], from = 's1', to = 's2') =>
  sessionComparison({ athleteId: 'a', task: 'run', metric: 'swingSideDropDeg', trials, annotations: [], from, to });
const found = (...given: Parameters<typeof compare>) => compare(...given) as SessionComparison;

// Half-widths 3 and 4: by Pythagoras 5.
test('the half-widths are combined by the root of their squares', () => {
  const { change, ci95, excludesZero } = found([session(1, 1, 3), session(2, 5, 4)]);
  expect(change).toBe(4);
  expect(ci95[0]).toBeCloseTo(-1, 12);
  expect(ci95[1]).toBeCloseTo(9, 12);
  expect(excludesZero).toBe(false);
});

test.each([
  [5.9, false],
  [6.1, true],
  [-4.1, true],
])('from 1 to %d with that interval excludes zero: %s', (difference, expected) => {
  expect(found([session(1, 1, 3), session(2, difference, 4)]).excludesZero).toBe(expected);
});

test('the later one may be compared with the one before it, with the other sign', () => {
  expect(found([session(1, 1, 3), session(2, 5, 4)], 's2', 's1').change).toBe(-4);
});

// Dingenen et al. 2018: 2.8 deg for one side's drop, times sqrt(2) for a difference of sides: 3.96.
test.each([
  [4.9, false],
  [5, true],
])('from 1 to %d is beyond the published detectable change: %s', (difference, expected) => {
  const { beyondDetectable, detectableChange } = found([session(1, 1, 0.1), session(2, difference, 0.1)]);
  expect(detectableChange.basis).toBe('published default');
  expect(beyondDetectable).toBe(expected);
});

test('the detectable change is that of the compared version', () => {
  const own = [session(1, 1, 1), session(2, 2, 1), session(3, 3, 1), session(4, 2, 1)];
  const { detectableChange } = found([...own, session(9, 90, 1, { version: 'v3' })], 's1', 's4');
  // Student's t, 2 degrees of freedom, two-sided 95 %: any table; SD of 1, 2, 3 is 1.
  expect(detectableChange).toMatchObject({ basis: 'own sessions', sessions: 3 });
  expect(detectableChange.change).toBeCloseTo(4.302653 * Math.SQRT2, 5);
});

test('both seats count towards what could be placement', () => {
  const seat = (id: number, difference: number, placementUncertainty: number | null) =>
    session(id, difference, 0.1, { placementUncertainty });
  expect(found([seat(1, 0, 3), seat(2, 4.9, 4)])).toMatchObject({ placementUncertainty: 5, couldBePlacement: true });
  expect(found([seat(1, 0, 3), seat(2, 5.1, 4)]).couldBePlacement).toBe(false);
  expect(found([seat(1, 0, 3), seat(2, 9, null)])).toMatchObject({
    placementUncertainty: null,
    couldBePlacement: null,
  });
});

test('too few stances in either conclude nothing', () => {
  const few = session(2, 50, 1, { leftN: 6 });
  const nothing = { tooFewStances: true, excludesZero: null, beyondDetectable: null, couldBePlacement: null };
  expect(found([session(1, 1, 1), few])).toMatchObject({ change: 49, ...nothing });
});

test('two versions are not compared, save where both sessions have one of them', () => {
  const old = { version: 'v1' };
  expect(compare([session(1, 1, 1, old), session(2, 2, 1)])).toEqual({ fault: 'versions', said: 'v1 and v2' });
  expect(compare([session(1, 1, 1, old), session(1, 3, 1), session(2, 2, 1)])).toMatchObject({
    version: 'v2',
    change: -1,
  });
});

test('a session without a difference is named', () => {
  expect(compare([session(2, 1, 1)])).toEqual({ fault: 'from not measured' });
  expect(compare([session(1, 1, 1)])).toEqual({ fault: 'to not measured' });
});
