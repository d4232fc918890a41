/**
 * How many more stances or sessions an answer against a limit would take: an estimate, not a promise. From few stances it
 * is rough (simulated: the same athlete is told 12 or 200) and rather too high than too low.
 *
 * Assumption, to be said wherever the number is shown: the difference and the scatter stay what they are today. Then that
 * many more give an answer (within when today's difference is inside the limit, outside when it is beyond) in at least
 * about four of five cases. Power of the two one-sided tests by the usual approximation: Schuirmann 1987; Julious 2004,
 * Stat Med 23:1921-1986 (from memory).
 */
import { normalCdf, studentTQuantile } from './quantiles.ts';

export const MORE_DATA_CHANCE = 0.8;
/** Past these nobody goes on collecting in the hope of an answer. */
export const STANCES_MORE_MAX = 500;
export const SESSIONS_MORE_MAX = 50;

export interface MoreData {
  unit: 'stances a side' | 'sessions';
  /** null: not within `STANCES_MORE_MAX` or `SESSIONS_MORE_MAX`, or never. */
  count: number | null;
  /**
   * `least number`: below that nothing is concluded. `estimate`: see above. `too close to the limit`: today's difference
   * lies too near it. `zero too uncertain`: the seat of the sensors decides, and more stances do not help; more sessions do.
   */
  reason: 'least number' | 'estimate' | 'too close to the limit' | 'zero too uncertain';
}

interface StancesToday {
  difference: number;
  /** Of the difference, without the uncertainty of the zero. */
  standardError: number;
  /** Stances of the smaller side. */
  n: number;
  zeroSigma: number;
}

/** One-sided 5 % of a normal distribution. */
const NORMAL_95 = 1.6448536269514722;

/** Both sides grow in the same proportion; the standard error falls with the square root. */
export function stancesMissing(today: StancesToday, limit: number): MoreData {
  const { difference, n, zeroSigma } = today;
  const chance = (total: number, sigma: number): number => {
    const standardError = today.standardError * Math.sqrt(n / total);
    return chanceOfAnswer(difference, limit, standardError, NORMAL_95 * Math.hypot(standardError, sigma));
  };
  const count = fewest((more) => chance(n + more, zeroSigma), STANCES_MORE_MAX);
  if (count !== null) return { unit: 'stances a side', count, reason: 'estimate' };
  const zeroDecides = zeroSigma > 0 && fewest((more) => chance(n + more, 0), STANCES_MORE_MAX) !== null;
  return { unit: 'stances a side', count: null, reason: zeroDecides ? 'zero too uncertain' : 'too close to the limit' };
}

/** @param today mean and standard deviation of the n sessions' differences */
export function sessionsMissing(today: { difference: number; sd: number; n: number }, limit: number): MoreData {
  const chance = (total: number): number => {
    const standardError = today.sd / Math.sqrt(total);
    return chanceOfAnswer(today.difference, limit, standardError, studentTQuantile(0.95, total - 1) * standardError);
  };
  const count = fewest((more) => chance(today.n + more), SESSIONS_MORE_MAX);
  return { unit: 'sessions', count, reason: count === null ? 'too close to the limit' : 'estimate' };
}

/** Chance that an interval of this half width about a new estimate lies all inside the limit, or all beyond it. */
function chanceOfAnswer(difference: number, limit: number, standardError: number, half: number): number {
  const size = Math.abs(difference);
  if (size > limit) return normalCdf((size - limit - half) / standardError);
  if (half >= limit) return 0;
  return normalCdf((limit - size - half) / standardError) - normalCdf((half - limit - size) / standardError);
}

/** The chance grows with more data. */
function fewest(chance: (more: number) => number, max: number): number | null {
  for (let more = 1; more <= max; more += 1) if (chance(more) >= MORE_DATA_CHANCE) return more;
  return null;
}
