/**
 * Is the difference within a limit? Two one-sided tests (Schuirmann 1987, J Pharmacokinet Biopharm 15:657-680), each at
 * 5 %, which is the same as asking where the whole 90 % interval lies: inside +-limit, beyond it, or across it. A
 * difference that is "not significant" is not thereby within anything.
 */
import { estimateDifference } from './difference.ts';
import { intervalOf, tailBeyond, withUncertainty, type Estimate } from './estimate.ts';
import { meanOf, sdOf } from './moments.ts';
import { sessionsMissing, stancesMissing, type MoreData } from './more-data.ts';
import { STANCES_PER_SIDE_MIN } from './stances-per-side.ts';

export type EquivalenceAnswer = 'within' | 'outside' | 'cannot tell yet';

/** Practice, no source: two sessions give no usable scatter. */
export const SESSIONS_MIN = 3;
/** The interval of two one-sided tests at 5 %. */
const LEVEL = 0.9;

export interface Equivalence {
  answer: EquivalenceAnswer;
  /** Left - right, in the metric's unit; null where nothing can be computed. */
  difference: number | null;
  ci90: [number, number] | null;
  /** Larger p of the two one-sided tests that the difference lies within the limit. */
  p: number | null;
  /** Estimate of what is still missing; null once the answer is there. */
  more: MoreData | null;
}

/**
 * Over the stances of one session.
 *
 * @param left values in order of time, in the unit of `limit`
 * @param limit above 0
 * @param zeroSigma standard uncertainty that the sensors' seat gives the difference (0 for none known); it does not shrink
 *   with more stances
 * @throws RangeError on a limit that is not above 0
 */
export function equivalenceOfStances(
  left: readonly number[],
  right: readonly number[],
  limit: number,
  zeroSigma = 0,
): Equivalence {
  checkLimit(limit);
  const estimate = estimateDifference(left, right);
  const n = Math.min(left.length, right.length);
  if (estimate === null || n < STANCES_PER_SIDE_MIN) {
    return tooFew(estimate, { unit: 'stances a side', count: STANCES_PER_SIDE_MIN - n, reason: 'least number' });
  }
  const standardError = typicalStandardError(estimate);
  const missing = (): MoreData =>
    stancesMissing({ difference: estimate.difference, standardError, n, zeroSigma }, limit);
  return decide(withUncertainty(estimate, zeroSigma), limit, missing);
}

/**
 * Over several sessions, each with one difference. The scatter between sessions carries placement and the day, so nothing
 * is added for the sensors' seat.
 *
 * @param differences one per session, left - right, in the unit of `limit`
 * @throws RangeError on a limit that is not above 0
 */
export function equivalenceOfSessions(differences: readonly number[], limit: number): Equivalence {
  checkLimit(limit);
  const n = differences.length;
  const estimate = n < 2 ? null : estimateOfSessions(differences);
  if (estimate === null || n < SESSIONS_MIN) {
    return tooFew(estimate, { unit: 'sessions', count: SESSIONS_MIN - n, reason: 'least number' });
  }
  const sd = sdOf(differences);
  return decide(estimate, limit, () => sessionsMissing({ difference: estimate.difference, sd, n }, limit));
}

/**
 * Of an estimate that was made elsewhere, such as a change from a baseline; where the interval lies, and no more.
 *
 * @throws RangeError on a limit that is not above 0
 */
export function equivalenceOfEstimate(
  estimate: Estimate,
  limit: number,
): { answer: EquivalenceAnswer; ci90: [number, number] } {
  checkLimit(limit);
  const ci90 = intervalOf(estimate, LEVEL);
  return { answer: answerOf(ci90, limit), ci90 };
}

function estimateOfSessions(differences: readonly number[]): Estimate {
  const n = differences.length;
  const part = { weight: 1, standardError: sdOf(differences) / Math.sqrt(n), degrees: n - 1 };
  return { difference: meanOf(differences), parts: [part] };
}

/** Geometric mean over the parts: the tail of unlikely correlations goes as stances come in, and should not count here. */
function typicalStandardError(estimate: Estimate): number {
  let sum = 0;
  for (const { weight, standardError } of estimate.parts) sum += weight * Math.log(standardError);
  return Math.exp(sum);
}

function decide(estimate: Estimate, limit: number, missing: () => MoreData): Equivalence {
  const { difference } = estimate;
  const { answer, ci90 } = equivalenceOfEstimate(estimate, limit);
  const p = Math.max(tailBeyond(estimate, limit - difference), tailBeyond(estimate, limit + difference));
  return { answer, difference, ci90, p, more: answer === 'cannot tell yet' ? missing() : null };
}

function answerOf([low, high]: [number, number], limit: number): EquivalenceAnswer {
  if (low > -limit && high < limit) return 'within';
  if (low > limit || high < -limit) return 'outside';
  return 'cannot tell yet';
}

function tooFew(estimate: Estimate | null, more: MoreData): Equivalence {
  return { answer: 'cannot tell yet', difference: estimate?.difference ?? null, ci90: null, p: null, more };
}

function checkLimit(limit: number): void {
  if (!(limit > 0)) throw new RangeError(`The limit must be above 0 in the metric's unit; it is ${limit}.`);
}
