/** What has to be read with the numbers. It stands in each Observation, as a receiver may keep one without the others. */
import { CAUTIONS, METRICS, type MetricAsymmetry, type StanceMetricKey } from '@ambipede/shared';
import type { FinalResult } from '../store/final-result.ts';

const DISCARDED = 'The coach has discarded this trial: it is left out of the history.';
const INCOMPLETE = 'Samples of this trial may still be on their way: the result can change.';
const COULD_BE_PLACEMENT = 'The difference is no larger than the way the sensors sit could make it.';

/** Plain sentences: of the trial, of the metric, then the cautions. Nothing of what somebody typed. */
export function notesOf(result: FinalResult, metric: StanceMetricKey, of: MetricAsymmetry): string[] {
  return [
    ...(result.discarded ? [DISCARDED] : []),
    ...(result.dataComplete ? [] : [INCOMPLETE]),
    ...(result.problem === null ? [] : [result.problem]),
    METRICS[metric].meaning,
    ...ofVerdict(of),
    ...(result.quality?.remarks ?? []),
    ...CAUTIONS,
  ];
}

function ofVerdict({ verdict, missingStances: { left, right } }: MetricAsymmetry): string[] {
  if (verdict === 'could be placement') return [COULD_BE_PLACEMENT];
  if (verdict !== 'too few stances') return [];
  return [`Too few stances to compare the sides: ${left} more on the left and ${right} more on the right are needed.`];
}
