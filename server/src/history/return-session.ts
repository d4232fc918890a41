/**
 * One session since the onset against a limit: two one-sided tests (Schuirmann 1987) on its difference minus the reference.
 *
 * The baseline's standard error comes with its few degrees of freedom; to it are added, as known, the session's own (from its
 * 95 % interval, too wide rather than too narrow for few stances) and the seat of the sensors that day, which no further
 * stance makes smaller.
 */
import { METRICS, type ReturnReference, type ReturnSession, type SessionDifference } from '@ambipede/shared';
import type { StanceMetricKey } from '@ambipede/shared';
import { equivalenceOfEstimate } from '../asymmetry/equivalence.ts';
import { withUncertainty, type Estimate } from '../asymmetry/estimate.ts';
import { stancesMissing, type MoreData } from '../asymmetry/more-data.ts';
import { normalQuantile, studentTQuantile } from '../asymmetry/quantiles.ts';
import { STANCES_PER_SIDE_MIN } from '../asymmetry/stances-per-side.ts';
import { WITHIN_95 } from './session-difference.ts';

/** A session of which the trials may have had too few stances for any difference. */
export type MeasuredSession = Omit<SessionDifference, 'difference' | 'ci95'> & {
  difference: number | null;
  ci95: [number, number] | null;
};

export interface SessionAnswer {
  session: ReturnSession;
  /** Null when there is an answer; `zero not known` when nothing says how the sensors sat. Takes longer than the answer. */
  more: () => MoreData | 'zero not known' | null;
}

const ONE_SIDED = 0.95;

export function answerOfSession(
  measured: MeasuredSession,
  reference: ReturnReference,
  { metric, limit }: { metric: StanceMetricKey; limit: number },
): SessionAnswer {
  const { sessionId, utcMs, n, tooFewStances, placementUncertainty, difference, ci95 } = measured;
  const mean = reference.basis === 'before the injury' ? reference.mean : 0;
  const change = difference === null ? null : difference - mean;
  const base = { sessionId, utcMs, n, tooFewStances, placementUncertainty, difference, change };
  const cannotTell = (more: MoreData | 'zero not known'): SessionAnswer => ({
    session: { ...base, answer: 'cannot tell', ci90: null },
    more: () => more,
  });
  const stances = Math.min(n.left, n.right);
  if (change === null || ci95 === null || tooFewStances) {
    const count = Math.max(1, STANCES_PER_SIDE_MIN - stances);
    return cannotTell({ unit: 'stances a side', count, reason: 'least number' });
  }
  if (placementUncertainty === null && METRICS[metric].zero === 'offset-sensitive') return cannotTell('zero not known');

  const standardError = (ci95[1] - ci95[0]) / 2 / WITHIN_95;
  const seat = (placementUncertainty ?? 0) / WITHIN_95;
  const estimate = withUncertainty(ofReference(change, reference), Math.hypot(standardError, seat));
  const { answer, ci90 } = equivalenceOfEstimate(estimate, limit);
  if (answer !== 'cannot tell yet') return { session: { ...base, answer, ci90 }, more: () => null };
  const more = (): MoreData => {
    const zeroSigma = Math.hypot(seat, asIfNormal(reference));
    return stancesMissing({ difference: change, standardError, n: stances, zeroSigma }, limit);
  };
  return { session: { ...base, answer: 'cannot tell', ci90 }, more };
}

function ofReference(difference: number, reference: ReturnReference): Estimate {
  const part =
    reference.basis === 'before the injury'
      ? { weight: 1, standardError: reference.standardError, degrees: reference.sessions - 1 }
      : { weight: 1, standardError: 0, degrees: 1 };
  return { difference, parts: [part] };
}

/** The count of missing stances reckons with normal tails: the baseline's are as much wider as Student's t says. */
function asIfNormal(reference: ReturnReference): number {
  if (reference.basis === 'unaffected side') return 0;
  const { standardError, sessions } = reference;
  return (standardError * studentTQuantile(ONE_SIDED, sessions - 1)) / normalQuantile(ONE_SIDED);
}
