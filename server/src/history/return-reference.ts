/** What the sessions since an onset are held against. */
import type { ReturnBaseline, ReturnReference, SessionDifference } from '@ambipede/shared';
import { BASELINE_SESSIONS_MIN } from '../asymmetry/baseline.ts';
import { meanOf, sdOf } from '../asymmetry/moments.ts';

const WEAKER =
  'Weaker: the other side changes after an injury too, so symmetry alone lets too many through (Wellsandt et al. 2017).';

/** @param before sessions before the onset that count, of the version that is compared */
export function referenceOf(
  wanted: ReturnBaseline,
  before: readonly SessionDifference[],
  version: string,
): ReturnReference {
  if (wanted === 'unaffected side')
    return { basis: 'unaffected side', weaker: true, why: `The episode compares with the unaffected side. ${WEAKER}` };
  const sessions = before.length;
  if (sessions < BASELINE_SESSIONS_MIN) {
    const why = `Compared with the unaffected side: version ${version} has ${sessions} of the ${BASELINE_SESSIONS_MIN} sessions that a baseline from before the injury takes. ${WEAKER}`;
    return { basis: 'unaffected side', weaker: true, why };
  }
  const differences = before.map(({ difference }) => difference);
  return {
    basis: 'before the injury',
    sessions,
    mean: meanOf(differences),
    standardError: sdOf(differences) / Math.sqrt(sessions),
  };
}
