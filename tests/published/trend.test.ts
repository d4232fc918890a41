/** The median slope of Theil and Sen with the interval of Kendall's rank statistic. */
import { describe, expect, it } from 'vitest';
import { discordantPairShares } from '../../server/src/asymmetry/kendall.ts';
import { trendOf, type SessionValue } from '../../server/src/asymmetry/trend.ts';

const points = (days: number[], values: number[]): SessionValue[] => days.map((day, i) => ({ day, value: values[i]! }));

// Sen 1968, J Am Stat Assoc 63:1379-1389 (data and values from memory, as scipy's own tests carry them): slope 4, interval 3.71
// to 4.38, called 93 % there from a cut of |S| >= 13, which comes by chance in 6.9 %. Counted exactly, the fourth slope
// from either end covers 1 - 2 * 76 / 5040 = 97.0 %, the fifth one 1 - 2 * 174 / 5040 = 93.1 %. scipy 1.17.1
// stats.theilslopes(y, x, 0.93) gives 4.0, 3.7142857142857144, 4.375.
describe('the example of Sen 1968', () => {
  const sen = points([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]);

  it('has the slope and the interval', () => {
    const trend = trendOf(sen, 0.969);
    if (trend.state === 'too few sessions') throw new Error('seven are enough');
    expect(trend.state).toBe('rising');
    expect(trend.slopePerDay).toBeCloseTo(4, 10);
    expect(trend.ci95[0]).toBeCloseTo(3.7142857142857144, 10);
    expect(trend.ci95[1]).toBeCloseTo(4.375, 10);
    expect(trend.coverage).toBeCloseTo(1 - 152 / 5040, 10);
  });

  it('is no wider than its level asks for', () => {
    const trend = trendOf(sen, 0.93);
    if (trend.state === 'too few sessions') throw new Error('seven are enough');
    expect(trend.coverage).toBeCloseTo(1 - 348 / 5040, 10);
    expect(trend.ci95[0]).toBeGreaterThan(3.72);
  });
});

// Sprent & Smeeton, Applied Nonparametric Statistical Methods, data of example 11.4: an outlying last value. scipy 1.17.1
// stats.theilslopes(y, x, 0.95): slope 0.5666666666666665, 0.49999999999999983 to 1.9249999999999998.
describe('a line with one value far off', () => {
  const values = [2.5, 3.1, 3.4, 4, 4.6, 5.1, 11.1];

  it('keeps the slope of the others, and scipy’s interval', () => {
    const trend = trendOf(points([0, 1, 2, 3, 4, 5, 6], values));
    if (trend.state === 'too few sessions') throw new Error('seven are enough');
    expect(trend.slopePerDay).toBeCloseTo(0.5666666666666665, 10);
    expect(trend.ci95[0]).toBeCloseTo(0.49999999999999983, 10);
    expect(trend.ci95[1]).toBeCloseTo(1.9249999999999998, 10);
  });
});

describe('Kendall’s distribution', () => {
  // All 24 orders of four: 1, 3, 5, 6, 5, 3, 1 of them have 0 to 6 discordant pairs (Mahonian numbers, OEIS A008302).
  it('counts the orders of four and of five', () => {
    discordantPairShares(4).forEach((share, i) => expect(24 * share).toBeCloseTo([1, 3, 5, 6, 5, 3, 1][i]!, 10));
    expect(
      discordantPairShares(5)
        .slice(0, 4)
        .map((share) => Math.round(120 * share)),
    ).toEqual([1, 4, 9, 15]);
  });

  // scipy 1.17.1 stats.kendalltau(range(7), a rising row, method='exact').pvalue
  it('has scipy’s p for seven values that only rise', () => {
    expect(2 * discordantPairShares(7)[0]!).toBeCloseTo(0.0003968253968253968, 15);
  });
});

describe('what a trend says', () => {
  const straight = (n: number, slope: number): SessionValue[] =>
    Array.from({ length: n }, (_, i) => ({ day: 7 * i, value: slope * 7 * i + [0.1, -0.1, 0.05][i % 3]! }));

  it('says how many sessions are missing for one', () => {
    expect(trendOf([])).toEqual({ state: 'too few sessions', sessions: 0, missingSessions: 5 });
    expect(trendOf(straight(4, 1))).toEqual({ state: 'too few sessions', sessions: 4, missingSessions: 1 });
    expect(trendOf(straight(5, 1)).state).toBe('rising');
  });

  it('counts sessions of one day once, at their mean', () => {
    const day = straight(5, 1);
    const twice = [...day, { day: 7, value: day[1]!.value + 1 }, { day: 7, value: day[1]!.value - 1 }];
    const [once, again] = [trendOf(day), trendOf(twice)];
    if (once.state === 'too few sessions' || again.state === 'too few sessions') throw new Error('five are enough');
    expect(again.sessions).toBe(5);
    expect(again.slopePerDay).toBeCloseTo(once.slopePerDay, 10);
  });

  it('does not depend on the order, turns with the sign, and goes past the exact table', () => {
    const values = straight(70, 0.3);
    const trend = trendOf(values);
    expect(trendOf([...values].reverse())).toEqual(trend);
    expect(trend.state).toBe('rising');
    expect(trendOf(values.map(({ day, value }) => ({ day, value: -value }))).state).toBe('falling');
    expect(trendOf(straight(12, 0)).state).toBe('no trend shown');
  });

  it('refuses a value or a day that is not finite', () => {
    expect(() => trendOf([...straight(5, 1), { day: 90, value: NaN }])).toThrow(RangeError);
    expect(() => trendOf([...straight(5, 1), { day: Infinity, value: 1 }])).toThrow(RangeError);
  });
});
