import { describe, expect, test } from 'vitest';
import type { Annotation } from '../../shared/src/index.ts';
import type { TrialDifference } from '../../server/src/history/session-difference.ts';
import { sessionHistory } from '../../server/src/history/session-history.ts';

const DAY_MS = 86_400_000;
const session = (day: number, difference: number, changes: Partial<TrialDifference> = {}): TrialDifference => ({
  sessionId: `day ${day}`,
  sessionUtcMs: day * DAY_MS,
  version: 'v2',
  leftN: 10,
  rightN: 10,
  difference,
  ci95: [difference - 1, difference + 1],
  placementUncertainty: 0.4,
  ...changes,
});
const injury = (day: number): Annotation => ({
  id: `injury of day ${day}`,
  athleteId: 'a',
  kind: 'injury',
  atUtcMs: day * DAY_MS,
  authorName: 'Ruta',
  side: 'left',
  painLevel: null,
  text: '',
  createdUtcMs: 0,
});
const of = (trials: TrialDifference[], annotations: Annotation[] = []) =>
  sessionHistory({ athleteId: 'a', task: 'run', metric: 'swingSideDropDeg', trials, annotations });

/** Student's t, 2 degrees of freedom, two-sided 95 %: any table. */
const T_2 = 4.302653;

describe('without an injury', () => {
  const history = of([session(1, 1), session(8, 2), session(15, 3), session(22, 9)]);

  test('the newest session is held against a baseline of the others', () => {
    expect(history.baseline).toMatchObject({ basis: 'all but the newest session', sessions: 3, missingSessions: 0 });
    expect(history.baseline.mean).toBeCloseTo(2, 12);
    expect(history.baseline.band![1]).toBeCloseTo(2 + T_2 * Math.sqrt(4 / 3), 5);
  });

  test('the detectable change is that of the own sessions: t sqrt(2) SD, after Weir 2005', () => {
    expect(history.detectableChange).toMatchObject({ basis: 'own sessions', sessions: 3 });
    expect(history.detectableChange.change).toBeCloseTo(T_2 * Math.SQRT2, 5);
  });

  test('four sessions show no trend yet, and one more is asked for', () => {
    expect(history.trend).toEqual({ state: 'too few sessions', sessions: 4, missingSessions: 1 });
  });
});

test('after an injury the baseline is what was before the first one, however few', () => {
  const history = of([session(1, 1), session(8, 2), session(15, 8), session(22, 9)], [injury(20), injury(10)]);
  expect(history.baseline).toEqual({
    basis: 'before the injury',
    sessions: 2,
    mean: null,
    band: null,
    missingSessions: 1,
  });
  // Dingenen et al. 2018: 2.8 deg for one side's drop, times sqrt(2) for a difference of sides.
  expect(history.detectableChange).toMatchObject({ basis: 'published default', missingSessions: 1 });
  expect(history.detectableChange.change).toBeCloseTo(2.8 * Math.SQRT2, 12);
});

test('a trend is in the unit per day', () => {
  const history = of([0, 10, 20, 30, 40, 50].map((day) => session(day, 1 + day / 10)));
  expect(history.trend).toMatchObject({ state: 'rising', sessions: 6 });
  expect(history.trend).toHaveProperty('slopePerDay', expect.closeTo(0.1, 12));
});

test('the older version is shown, but is in no trend, baseline or detectable change, and that is said', () => {
  const older = [1, 2, 3, 4, 5].map((day) => session(day, 50, { version: 'v1' }));
  const newer = [11, 12, 13, 14, 15].map((day) => session(day, 2));
  const history = of([...older, ...newer]);
  expect(history.sessions).toHaveLength(10);
  expect(history.versions).toEqual([
    { version: 'v1', sessions: 5, used: false },
    { version: 'v2', sessions: 5, used: true },
  ]);
  expect(history.trend).toMatchObject({ state: 'no trend shown', sessions: 5, slopePerDay: 0 });
  expect(history.baseline).toMatchObject({ sessions: 4, mean: 2 });
  expect(history.remarks.join()).toContain('version v1 (5)');
});

test('sessions with too few stances are shown, and count for nothing else', () => {
  const history = of([session(1, 1), session(2, 99, { leftN: 6 }), session(3, 1), session(4, 1), session(5, 1)]);
  expect(history.sessions).toHaveLength(5);
  expect(history.baseline).toMatchObject({ sessions: 3, mean: 1 });
  expect(history.trend).toMatchObject({ sessions: 4 });
  expect(history.remarks.join()).toContain('too few stances a side (1)');
});

test('nothing measured is an empty history, not zeros', () => {
  expect(of([])).toMatchObject({
    sessions: [],
    versions: [],
    baseline: { sessions: 0, mean: null, band: null, missingSessions: 3 },
    trend: { state: 'too few sessions', sessions: 0 },
  });
});
