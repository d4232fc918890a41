import { describe, expect, test } from 'vitest';
import { randomEffectsMean, sessionDifferences } from '../../server/src/history/session-difference.ts';
import type { TrialDifference } from '../../server/src/history/session-difference.ts';

const trial = (changes: Partial<TrialDifference> = {}): TrialDifference => ({
  sessionId: 'a',
  sessionUtcMs: 1000,
  version: 'v1',
  leftN: 10,
  rightN: 9,
  difference: 2,
  ci95: [1, 3],
  placementUncertainty: 0.4,
  ...changes,
});

// By hand from the formulas of DerSimonian & Laird 1986: Q, then (Q - (k - 1)) / (sum w - sum w^2 / sum w).
describe('trials of unlike differences', () => {
  test('with Q = 8 and a variance between them of 7 have the mean 3 with a standard error of 2', () => {
    const { mean, standardError } = randomEffectsMean([
      { difference: 1, standardError: 1 },
      { difference: 5, standardError: 1 },
    ]);
    expect(mean).toBeCloseTo(3, 12);
    expect(standardError).toBeCloseTo(2, 12);
  });

  test('and unlike scatter, with Q = 1.8 and a variance between them of 2: mean 1, standard error sqrt 2', () => {
    const { mean, standardError } = randomEffectsMean([
      { difference: 0, standardError: 1 },
      { difference: 3, standardError: 2 },
    ]);
    expect(mean).toBeCloseTo(1, 12);
    expect(standardError).toBeCloseTo(Math.SQRT2, 12);
  });
});

test('trials that agree are weighted by their variances alone', () => {
  const { mean, standardError } = randomEffectsMean([
    { difference: 2, standardError: 1 },
    { difference: 2.5, standardError: 2 },
  ]);
  expect(mean).toBeCloseTo((2 + 2.5 / 4) / 1.25, 12);
  expect(standardError).toBeCloseTo(Math.sqrt(1 / 1.25), 12);
});

test('a trial without any scatter does not outweigh the others', () => {
  const { mean, standardError } = randomEffectsMean([
    { difference: 1, standardError: 0 },
    { difference: 3, standardError: 0.1 },
  ]);
  expect(mean).toBe(2);
  // Half the distance: the standard error of the mean of two values.
  expect(standardError).toBeCloseTo(1, 12);
});

test('a single trial keeps its difference and its interval', () => {
  const [session] = sessionDifferences([trial({ difference: 2, ci95: [0.5, 3.5] })]);
  expect(session).toMatchObject({ difference: 2, trials: 1, n: { left: 10, right: 9 }, tooFewStances: false });
  expect(session!.ci95[0]).toBeCloseTo(0.5, 12);
  expect(session!.ci95[1]).toBeCloseTo(3.5, 12);
});

test('trials of one session made by two versions are not put together', () => {
  const found = sessionDifferences([trial(), trial({ version: 'v2', difference: 6, ci95: [5, 7] })]);
  expect(found.map(({ version, difference, trials }) => [version, difference, trials])).toEqual([
    ['v1', 2, 1],
    ['v2', 6, 1],
  ]);
});

test('a trial without a difference is counted as left out, and a session of such alone is no session', () => {
  const none = trial({ difference: null, ci95: null, leftN: 1, rightN: 0 });
  expect(sessionDifferences([trial(), none])).toMatchObject([
    { trials: 1, trialsLeftOut: 1, n: { left: 10, right: 9 } },
  ]);
  expect(sessionDifferences([none])).toEqual([]);
});

// Dingenen et al. 2018, Phys Ther Sport 33:40-47: stable from 7 steps a side on.
test.each([
  [6, 7, true],
  [7, 7, false],
])('%i and %i stances a side, of all trials together, are too few: %s', (left, right, tooFew) => {
  const halves = [trial({ leftN: 3, rightN: 4 }), trial({ leftN: left - 3, rightN: right - 4 })];
  expect(sessionDifferences(halves)[0]!.tooFewStances).toBe(tooFew);
});

test('the trials of a session share the seat of the sensors: the largest counts, and unknown stays unknown', () => {
  const seats = (...of: (number | null)[]) =>
    sessionDifferences(of.map((placementUncertainty) => trial({ placementUncertainty })))[0]!.placementUncertainty;
  expect(seats(0.4, 0.9, 0.5)).toBe(0.9);
  expect(seats(0.4, null)).toBeNull();
});
