/** Left against right over the stances of one trial: the table that live view, trial page and results file show. */
import {
  METRICS,
  STANCE_METRIC_KEYS,
  type MetricAsymmetry,
  type SideSummary,
  type Stance,
  type StanceMetricKey,
} from '@ambipede/shared';
import { sensorAllowance, type Gait } from './sensor-allowance.ts';
import { differenceWithInterval } from './difference.ts';
import { meanOf, sdOf } from './moments.ts';
import { STANCES_PER_SIDE_MIN } from './stances-per-side.ts';

export type AsymmetryTable = Partial<Record<StanceMetricKey, MetricAsymmetry>>;

/**
 * @param stances in order of time; those without a side count for nothing here
 * @param frontalUncertaintyDeg standard uncertainty of the zero of pelvis and trunk angles, from the mounting
 */
export function summariseAsymmetry(
  stances: readonly Stance[],
  frontalUncertaintyDeg: { pelvis: number | null; sternum: number | null } = { pelvis: null, sternum: null },
): AsymmetryTable {
  const gait = gaitOf(stances);
  const table: AsymmetryTable = {};
  for (const key of STANCE_METRIC_KEYS) {
    const left = valuesOf(stances, 'left', key);
    const right = valuesOf(stances, 'right', key);
    const frontal = METRICS[key].zero === 'offset-sensitive' ? zeroOf(key, frontalUncertaintyDeg) : null;
    table[key] = compare(left, right, sensorAllowance(key, gait, frontal));
  }
  return table;
}

function valuesOf(stances: readonly Stance[], side: 'left' | 'right', key: StanceMetricKey): number[] {
  const values: number[] = [];
  for (const stance of stances) {
    const value = stance[key];
    if (stance.side === side && value !== null) values.push(value);
  }
  return values;
}

/** What most of the stances are. */
function gaitOf(stances: readonly Stance[]): Gait {
  const running = stances.filter((s) => s.gait === 'run').length;
  return 2 * running > stances.length ? 'run' : 'walk';
}

function zeroOf(key: StanceMetricKey, uncertainty: { pelvis: number | null; sternum: number | null }): number | null {
  return key.startsWith('lean') ? uncertainty.sternum : uncertainty.pelvis;
}

function summarise(values: readonly number[]): SideSummary {
  return {
    n: values.length,
    mean: values.length > 0 ? meanOf(values) : null,
    sd: values.length > 1 ? sdOf(values) : null,
  };
}

function compare(left: readonly number[], right: readonly number[], allowance: number | null): MetricAsymmetry {
  const result = differenceWithInterval(left, right);
  const missing = (n: number): number => Math.max(0, STANCES_PER_SIDE_MIN - n);
  const missingStances = { left: missing(left.length), right: missing(right.length) };
  return {
    left: summarise(left),
    right: summarise(right),
    difference: result?.difference ?? null,
    ci95: result?.ci95 ?? null,
    missingStances,
    verdict: verdictOf(left.length + right.length, result, missingStances, allowance),
    ...(allowance === null ? {} : { placementUncertainty: allowance }),
  };
}

function verdictOf(
  n: number,
  result: { difference: number; ci95: [number, number] } | null,
  missing: { left: number; right: number },
  allowance: number | null,
): MetricAsymmetry['verdict'] {
  if (n === 0) return 'not measured';
  if (result === null || missing.left > 0 || missing.right > 0) return 'too few stances';
  const [low, high] = result.ci95;
  if (low <= 0 && high >= 0) return 'not more than scatter';
  if (allowance !== null && Math.abs(result.difference) <= allowance) return 'could be placement';
  return 'more than scatter';
}
