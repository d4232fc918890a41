/**
 * The trials of a session as one difference: each trial's difference weighted by 1 / (its variance + the variance between
 * the trials), which allows for trials that differ by more than their own scatter. DerSimonian & Laird 1986, Control Clin
 * Trials 7:177-188. A single trial keeps its own interval.
 *
 * Limits: a trial's variance is taken from its 95 % interval as if that were normal, which is too wide rather than too
 * narrow for few stances; the variance between two or three trials is itself hardly known.
 */
import type { SessionDifference } from '@ambipede/shared';
import { STANCES_PER_SIDE_MIN } from '../asymmetry/stances-per-side.ts';

/** Two-sided 95 % of a normal distribution. */
export const WITHIN_95 = 1.96;

export interface TrialDifference {
  sessionId: string;
  sessionUtcMs: number;
  version: string;
  leftN: number;
  rightN: number;
  difference: number | null;
  ci95: [number, number] | null;
  /** Differences up to this could be the sensors' seat (95 %); null when not known. */
  placementUncertainty: number | null;
}

/** One per session and version, oldest first; sessions without any usable difference are left out. */
export function sessionDifferences(trials: readonly TrialDifference[]): SessionDifference[] {
  const groups = new Map<string, TrialDifference[]>();
  for (const trial of trials) {
    const key = `${trial.sessionId} ${trial.version}`;
    const group = groups.get(key);
    if (group) group.push(trial);
    else groups.set(key, [trial]);
  }
  const found = [...groups.values()].flatMap((group) => combine(group) ?? []);
  return found.sort((a, b) => a.utcMs - b.utcMs);
}

function combine(group: readonly TrialDifference[]): SessionDifference | null {
  const usable = group.flatMap(({ difference, ci95, leftN, rightN, placementUncertainty }) =>
    difference === null || ci95 === null
      ? []
      : [{ difference, standardError: (ci95[1] - ci95[0]) / 2 / WITHIN_95, leftN, rightN, placementUncertainty }],
  );
  if (usable.length === 0) return null;
  const { sessionId, sessionUtcMs: utcMs, version } = group[0]!;
  const { mean, standardError } = randomEffectsMean(usable);
  const n = {
    left: usable.reduce((sum, { leftN }) => sum + leftN, 0),
    right: usable.reduce((sum, { rightN }) => sum + rightN, 0),
  };
  const half = WITHIN_95 * standardError;
  return {
    sessionId,
    utcMs,
    version,
    difference: mean,
    ci95: [mean - half, mean + half],
    trials: usable.length,
    trialsLeftOut: group.length - usable.length,
    n,
    tooFewStances: Math.min(n.left, n.right) < STANCES_PER_SIDE_MIN,
    placementUncertainty: seatOf(usable),
  };
}

/** The trials of a session share the seat of the sensors: the largest, and unknown where one of them is. */
function seatOf(trials: readonly Pick<TrialDifference, 'placementUncertainty'>[]): number | null {
  const known = trials.flatMap(({ placementUncertainty }) => placementUncertainty ?? []);
  return known.length < trials.length ? null : Math.max(...known);
}

/**
 * @param values at least one, any one unit. Where one has no scatter at all, they weigh alike: it would outweigh all others.
 */
export function randomEffectsMean(values: readonly { difference: number; standardError: number }[]): {
  mean: number;
  standardError: number;
} {
  const weigh = (between: number): { mean: number; weights: number[]; total: number } => {
    const weights = values.map(({ standardError }) => 1 / (standardError ** 2 + between));
    const total = weights.reduce((sum, weight) => sum + weight, 0);
    return {
      mean: values.reduce((sum, { difference }, i) => sum + weights[i]! * difference, 0) / total,
      weights,
      total,
    };
  };
  if (values.length > 1 && values.some(({ standardError }) => standardError === 0)) return alike(values);
  if (values.length === 1) return { mean: values[0]!.difference, standardError: values[0]!.standardError };
  const fixed = weigh(0);
  const q = values.reduce((sum, { difference }, i) => sum + fixed.weights[i]! * (difference - fixed.mean) ** 2, 0);
  const squares = fixed.weights.reduce((sum, weight) => sum + weight ** 2, 0);
  const between = Math.max(0, (q - (values.length - 1)) / (fixed.total - squares / fixed.total));
  const random = weigh(between);
  return { mean: random.mean, standardError: Math.sqrt(1 / random.total) };
}

/** Plain mean, with the larger of the scatter within and between. */
function alike(values: readonly { difference: number; standardError: number }[]): {
  mean: number;
  standardError: number;
} {
  const n = values.length;
  const mean = values.reduce((sum, { difference }) => sum + difference, 0) / n;
  const within = values.reduce((sum, { standardError }) => sum + standardError ** 2, 0) / n ** 2;
  const between = values.reduce((sum, { difference }) => sum + (difference - mean) ** 2, 0) / (n - 1) / n;
  return { mean, standardError: Math.sqrt(Math.max(within, between)) };
}
