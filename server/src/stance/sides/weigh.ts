/**
 * Evidence of the steps in memory as log likelihood ratios. Each feature is measured in units of its own size in this
 * recording, and counts by how well it alternates from step to step: one that does not, in this person or with this
 * sensor, has nothing to say.
 */
import { FEATURES, type Evidence } from './evidence.ts';
import { EVIDENCE_MAX } from './decode.ts';

/** Log likelihood ratio of a step of usual size, when the feature alternates perfectly. */
const FULL_WEIGHT: Evidence = [4, 4, 1.5, 2.5];
/** A single large value counts this many times the usual size. */
const SIZE_MAX = 1.5;
/** Alternation before there is anything to measure, as if seen over this many pairs of steps. */
const ALTERNATION_PRIOR = 0.7;
const PRIOR_PAIRS = 3;

export function weighEvidence(evidence: readonly (Evidence | null)[], continues: readonly boolean[]): number[] {
  const llr = evidence.map(() => 0);
  for (let f = 0; f < FEATURES.length; f += 1) {
    const size = usualSize(evidence, f);
    if (size === 0) continue;
    const weight = FULL_WEIGHT[f]! * alternation(evidence, continues, f, size) ** 2;
    for (let i = 0; i < evidence.length; i += 1) {
      const step = evidence[i];
      if (has(step, f)) llr[i] = llr[i]! + weight * clamp(step[f]! / size, SIZE_MAX);
    }
  }
  return llr.map((x) => clamp(x, EVIDENCE_MAX));
}

function has(step: Evidence | null | undefined, f: number): step is Evidence {
  return step != null && !Number.isNaN(step[f]!);
}

function usualSize(evidence: readonly (Evidence | null)[], f: number): number {
  let sum = 0;
  let count = 0;
  for (const step of evidence) {
    if (!has(step, f)) continue;
    sum += Math.abs(step[f]!);
    count += 1;
  }
  return count === 0 ? 0 : sum / count;
}

/** 1 when the feature changes sign by its full size from each step to the next, 0 when it keeps to one sign or none. */
function alternation(
  evidence: readonly (Evidence | null)[],
  continues: readonly boolean[],
  f: number,
  size: number,
): number {
  let sum = ALTERNATION_PRIOR * PRIOR_PAIRS;
  let count = PRIOR_PAIRS;
  for (let i = 1; i < evidence.length; i += 1) {
    const a = evidence[i - 1];
    const b = evidence[i];
    if (!continues[i] || !has(a, f) || !has(b, f)) continue;
    const first = clamp(a[f]! / size, SIZE_MAX);
    const second = clamp(b[f]! / size, SIZE_MAX);
    sum += clamp((Math.abs(first - second) - Math.abs(first + second)) / 2, 1);
    count += 1;
  }
  return Math.max(0, sum / count);
}

function clamp(value: number, limit: number): number {
  return Math.min(limit, Math.max(-limit, value));
}
