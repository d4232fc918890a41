import { describe, expect, test } from 'vitest';
import { RETURN_SESSIONS_IN_A_ROW_MAX, RETURN_SESSIONS_SHOWN_MAX } from '../../shared/src/index.ts';
import type { ReturnBaseline, ReturnCriterion } from '../../shared/src/index.ts';
import { criterionState, mostLimitingFirst } from '../../server/src/history/return-state.ts';
import type { TrialDifference } from '../../server/src/history/session-difference.ts';
import { seededRandom } from '../support/seeded-random.ts';

const ONSET = 100;
/** A known standard error of 1 / sqrt(3), as the 95 % interval that a trial stores. */
const HALF = 1.96 / Math.sqrt(3);
const session = (utcMs: number, difference: number, changes: Partial<TrialDifference> = {}): TrialDifference => ({
  sessionId: `at ${utcMs}`,
  sessionUtcMs: utcMs,
  version: 'v2',
  leftN: 20,
  rightN: 20,
  difference,
  ci95: [difference - HALF, difference + HALF],
  placementUncertainty: 0,
  ...changes,
});
const criterion = (changes: Partial<ReturnCriterion> = {}): ReturnCriterion => ({
  id: 'c',
  episodeId: 'e',
  task: 'run',
  metric: 'swingSideDropDeg',
  limit: 2.02,
  sessionsInARow: 1,
  createdUtcMs: 0,
  ...changes,
});
const BEFORE = [session(1, 1), session(2, 2), session(3, 3)];
const stateOf = (
  trials: TrialDifference[],
  changes: Partial<ReturnCriterion> = {},
  baseline: ReturnBaseline = 'before the injury',
) => criterionState({ onsetUtcMs: ONSET, baseline }, criterion(changes), trials);

/**
 * Baseline 1, 2, 3: mean 2, SE 1 / sqrt(3) with 2 degrees of freedom. Session 2.5, SE 1 / sqrt(3), known. By Welch and
 * Satterthwaite the change 0.5 has SE sqrt(2 / 3) with 2 (2 / 1)^2 = 8 degrees. Student's t, 8, one-sided 95 %: any table.
 */
const HALF_90 = 1.859548 * Math.sqrt(2 / 3);

describe('against a baseline from before the injury', () => {
  test('the 90 % interval of the change carries the baseline’s few sessions', () => {
    const { sessions, reference } = stateOf([...BEFORE, session(101, 2.5)]);
    expect(reference).toMatchObject({ basis: 'before the injury', sessions: 3, mean: 2 });
    expect(sessions).toHaveLength(1);
    expect(sessions[0]!.change).toBeCloseTo(0.5, 12);
    expect(sessions[0]!.ci90![0]).toBeCloseTo(0.5 - HALF_90, 5);
    expect(sessions[0]!.ci90![1]).toBeCloseTo(0.5 + HALF_90, 5);
  });

  test.each([
    [2.5, 0.5 + HALF_90 + 0.001, 'within'],
    [2.5, 0.5 + HALF_90 - 0.001, 'cannot tell'],
    [7, 5 - HALF_90 - 0.001, 'outside'],
    [7, 5 - HALF_90 + 0.001, 'cannot tell'],
    [-3, 5 - HALF_90 - 0.001, 'outside'],
  ])('a difference of %d against a limit of %d is: %s', (difference, limit, expected) => {
    expect(stateOf([...BEFORE, session(101, difference)], { limit }).state).toBe(expected);
  });

  test('the seat of the sensors that day widens it: 1.96 standard uncertainties are stored', () => {
    // Half of the known variance from the stances, half from the seat: the same interval as above.
    const half = 1.96 / Math.sqrt(6);
    const ci95: [number, number] = [2.5 - half, 2.5 + half];
    const seat = session(101, 2.5, { ci95, placementUncertainty: half });
    expect(stateOf([...BEFORE, seat]).sessions[0]!.ci90![1]).toBeCloseTo(0.5 + HALF_90, 5);
  });
});

describe('the unaffected side stands in, marked weaker,', () => {
  /** Normal, one-sided 95 %: any table. */
  const half = 1.644854 / Math.sqrt(3);

  test('with two sessions before the onset, and says so', () => {
    const { reference, sessions } = stateOf([...BEFORE.slice(1), session(101, 1)]);
    expect(reference).toMatchObject({ basis: 'unaffected side', weaker: true });
    expect(reference).toHaveProperty('why', expect.stringContaining('2 of the 3 sessions'));
    expect(sessions[0]!.change).toBe(1);
    expect(sessions[0]!.ci90![1]).toBeCloseTo(1 + half, 5);
  });

  test('where the sessions before are of another version or of too few stances', () => {
    const older = BEFORE.map((each) => ({ ...each, version: 'v1' }));
    const state = stateOf([...older, session(101, 1)]);
    expect(state.reference).toHaveProperty('why', expect.stringContaining('0 of the 3 sessions'));
    expect(state.remarks.join()).toContain('version v1 (3)');
    const few = BEFORE.map((each) => ({ ...each, leftN: 6 }));
    expect(stateOf([...few, session(101, 1)]).reference).toMatchObject({ basis: 'unaffected side' });
  });

  test('where the episode asks for it, whatever there was before', () => {
    const { reference } = stateOf([...BEFORE, session(101, 1)], {}, 'unaffected side');
    expect(reference).toMatchObject({ basis: 'unaffected side', weaker: true });
  });
});

describe('sessions in a row', () => {
  const good = (utcMs: number) => session(utcMs, 2);
  const bad = (utcMs: number) => session(utcMs, 9);

  test('are counted from the newest back, and the missing ones named', () => {
    const state = stateOf([...BEFORE, good(101), bad(102), good(103), good(104)], { sessionsInARow: 3 });
    expect(state).toMatchObject({
      state: 'cannot tell',
      withinInARow: 2,
      missing: { unit: 'sessions', count: 1 },
      newestUtcMs: 104,
    });
    expect(stateOf([...BEFORE, good(101), good(102)], { sessionsInARow: 2 }).state).toBe('within');
  });

  test('are broken by a newest one outside, however many were within', () => {
    const state = stateOf([...BEFORE, good(101), good(102), bad(103)]);
    expect(state).toMatchObject({ state: 'outside', withinInARow: 0, missing: null });
  });

  test('a session at the very onset counts as after it', () => {
    expect(stateOf([...BEFORE, good(ONSET)]).sessions).toHaveLength(1);
    expect(stateOf([...BEFORE, good(ONSET - 1)]).state).toBe('not measured');
  });

  test('are reckoned for the newest alone, more of them than a row may ask for', () => {
    const many = Array.from({ length: RETURN_SESSIONS_SHOWN_MAX + 1 }, (_, k) => good(101 + k));
    const { sessions, withinInARow } = stateOf([...BEFORE, ...many]);
    expect(sessions.map(({ utcMs }) => utcMs)).toEqual(many.slice(1).map(({ sessionUtcMs }) => sessionUtcMs));
    expect(withinInARow).toBe(RETURN_SESSIONS_SHOWN_MAX);
    expect(RETURN_SESSIONS_SHOWN_MAX).toBeGreaterThan(RETURN_SESSIONS_IN_A_ROW_MAX);
  });

  test('of the newest version alone', () => {
    const state = stateOf([...BEFORE, { ...bad(101), version: 'v1' }, good(102)]);
    expect(state).toMatchObject({ state: 'within', version: 'v2', withinInARow: 1 });
    expect(state.remarks.join()).toContain('version v1 (1)');
  });
});

describe('cannot tell', () => {
  test('says how many stances the least number lacks, and no older session stands for it', () => {
    const few = session(102, 2, { leftN: 3 });
    expect(stateOf([...BEFORE, session(101, 2), few])).toMatchObject({
      state: 'cannot tell',
      missing: { unit: 'stances a side', count: 4 },
    });
    const none = session(102, 2, { leftN: 1, difference: null, ci95: null });
    expect(stateOf([...BEFORE, session(101, 2), none])).toMatchObject({
      state: 'cannot tell',
      newestUtcMs: 102,
      missing: { unit: 'stances a side', count: 6 },
    });
  });

  test('says how many more stances it is likely to take', () => {
    const { missing, why } = stateOf([session(101, 1)], { limit: 1.9 });
    expect(missing).toMatchObject({ unit: 'stances a side' });
    // By hand: SE falls to (1.9 - 1) / (1.6449 + 0.8416) = 0.36195 at 20 (0.57735 / 0.36195)^2 = 50.9 stances a side.
    expect(missing!.count).toBe(31);
    expect(why).toContain('31 more stances a side');
  });

  test('says that more stances do not help where the seat decides', () => {
    const state = stateOf([session(101, 0, { placementUncertainty: 5 })], { limit: 2 });
    expect(state).toMatchObject({ state: 'cannot tell', missing: { count: null } });
    expect(state.why).toContain('more stances do not help');
  });

  test('takes an unknown seat as unknown, not as none, for a metric measured from level', () => {
    const unknown = session(101, 2, { placementUncertainty: null });
    expect(stateOf([...BEFORE, unknown])).toMatchObject({ state: 'cannot tell', missing: { count: null } });
    expect(stateOf([...BEFORE, unknown], { metric: 'contactTimeS' }).state).toBe('within');
  });
});

test('nothing since the onset is not measured, and no zeros', () => {
  expect(stateOf(BEFORE, { sessionsInARow: 2 })).toMatchObject({
    state: 'not measured',
    newestUtcMs: null,
    reference: null,
    sessions: [],
    missing: { unit: 'sessions', count: 2 },
  });
});

test('the most limiting comes first, and among equals the one that uses most of its limit', () => {
  const states = [
    stateOf([...BEFORE, session(101, 2)], { id: 'within' }),
    stateOf([...BEFORE, session(101, 3)], { id: 'cannot tell' }),
    stateOf([], { id: 'not measured' }),
    stateOf([...BEFORE, session(101, 7)], { id: 'outside' }),
    stateOf([...BEFORE, session(101, 9)], { id: 'further outside' }),
  ];
  const order = mostLimitingFirst(states).map(({ id }) => id);
  expect(order).toEqual(['further outside', 'outside', 'not measured', 'cannot tell', 'within']);
});

test('athletes whose true change is the limit are told "within" in one of twenty, as the test says', () => {
  const random = seededRandom(7);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const RUNS = 4000;
  let within = 0;
  for (let run = 0; run < RUNS; run += 1) {
    const before = [1, 2, 3, 4, 5].map((utcMs) => session(utcMs, normal()));
    const state = stateOf([...before, session(101, 4 + normal() / Math.sqrt(3))], { limit: 4 });
    if (state.state === 'within') within += 1;
  }
  // 5 % of 4000 with three standard errors (binomial) is 159 to 241.
  expect(within).toBeGreaterThan(159);
  expect(within).toBeLessThan(241);
});
