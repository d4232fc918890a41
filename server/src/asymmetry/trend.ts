/**
 * How a value changes over the sessions of months: the median of the slopes between all pairs of sessions (Theil 1950;
 * Sen 1968, J Am Stat Assoc 63:1379-1389), with the interval that belongs to Kendall's rank statistic.
 *
 * Why not least squares: one bad day, or one session with a sensor that had slipped, bends a line of six points; the median
 * slope holds until about 29 % of the sessions are bad. And the interval needs no normal distribution: it covers at least
 * 95 % for independent errors of any shape. It covers less when neighbouring sessions resemble each other beyond the trend.
 */
import { meanOf } from './moments.ts';
import { discordantPairShares, EXACT_VALUES_MAX } from './kendall.ts';
import { normalQuantile } from './quantiles.ts';

/** With four, no rank interval reaches 95 %: the widest, over all slopes, covers 1 - 2/4! = 92 %. */
export const TREND_SESSIONS_MIN = 5;

export interface SessionValue {
  /** Days on any one scale. */
  day: number;
  value: number;
}

export type Trend =
  | { state: 'too few sessions'; sessions: number; missingSessions: number }
  | {
      state: 'rising' | 'falling' | 'no trend shown';
      sessions: number;
      /** Unit of the value per day. */
      slopePerDay: number;
      ci95: [number, number];
      /** Share of intervals that cover at least the true slope: 0.95 or, for few sessions, a little more. */
      coverage: number;
    };

/**
 * @param values in any order; those of the same day are averaged to one
 * @param level the least coverage of `ci95`, should another one be asked for
 * @throws RangeError on a value or a day that is not finite
 */
export function trendOf(values: readonly SessionValue[], level = 0.95): Trend {
  if (values.some(({ day, value }) => !Number.isFinite(day) || !Number.isFinite(value)))
    throw new RangeError('Leave out sessions without a value.');
  const points = onePerDay(values);
  const sessions = points.length;
  if (sessions < TREND_SESSIONS_MIN)
    return { state: 'too few sessions', sessions, missingSessions: TREND_SESSIONS_MIN - sessions };
  const slopes = pairSlopes(points);
  const { left, coverage } = leftOut(sessions, level);
  const ci95: [number, number] = [slopes[left]!, slopes[slopes.length - 1 - left]!];
  const state = ci95[0] > 0 ? 'rising' : ci95[1] < 0 ? 'falling' : 'no trend shown';
  return { state, sessions, slopePerDay: medianOfSorted(slopes), ci95, coverage };
}

function onePerDay(values: readonly SessionValue[]): SessionValue[] {
  const days = new Map<number, number[]>();
  for (const { day, value } of values) days.set(day, [...(days.get(day) ?? []), value]);
  return [...days].map(([day, ofDay]) => ({ day, value: meanOf(ofDay) })).sort((a, b) => a.day - b.day);
}

/** Rising order. */
function pairSlopes(points: readonly SessionValue[]): number[] {
  const slopes: number[] = [];
  points.forEach((later, i) => {
    for (const earlier of points.slice(0, i)) slopes.push((later.value - earlier.value) / (later.day - earlier.day));
  });
  return slopes.sort((a, b) => a - b);
}

function medianOfSorted(sorted: readonly number[]): number {
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** How many slopes may be left out at either end, and what the rest then covers. */
function leftOut(n: number, level: number): { left: number; coverage: number } {
  const pairs = (n * (n - 1)) / 2;
  if (n > EXACT_VALUES_MAX) {
    const sd = Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18);
    return { left: Math.floor((pairs - normalQuantile((1 + level) / 2) * sd) / 2), coverage: level };
  }
  const shares = discordantPairShares(n);
  let tail = shares[0]!;
  let left = 0;
  while (2 * (tail + shares[left + 1]!) <= 1 - level) {
    left += 1;
    tail += shares[left]!;
  }
  return { left, coverage: 1 - 2 * tail };
}
