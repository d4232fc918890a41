/** Left against right over the stances of one trial: the table that live view, trial page and results file show. */
import {
  METRICS,
  STANCE_METRIC_KEYS,
  type MetricAsymmetry,
  type SideSummary,
  type Stance,
  type StanceMetricKey,
} from '@ambipede/shared';
import { differenceWithInterval, meanOf, sdOf } from './difference.ts';

/** No conclusion from fewer stances a side (Dingenen et al. 2018, Phys Ther Sport 33:40-47: stable from 7 steps on). */
export const STANCES_PER_SIDE_MIN = 7;

export type AsymmetryTable = Partial<Record<StanceMetricKey, MetricAsymmetry>>;

/**
 * @param stances in order of time; those without a side count for nothing here
 * @param frontalUncertaintyDeg standard uncertainty of the zero of pelvis and trunk angles, from the mounting
 */
export function summariseAsymmetry(
  stances: readonly Stance[],
  frontalUncertaintyDeg: { pelvis: number | null; sternum: number | null } = { pelvis: null, sternum: null },
): AsymmetryTable {
  const table: AsymmetryTable = {};
  for (const key of STANCE_METRIC_KEYS) {
    const left = valuesOf(stances, 'left', key);
    const right = valuesOf(stances, 'right', key);
    const uncertainty = METRICS[key].zero === 'offset-sensitive' ? placementOf(key, frontalUncertaintyDeg) : null;
    table[key] = compare(left, right, uncertainty);
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

/** An error e of the zero shows as a difference of 2e (BIOMECHANICS 2); 95 %: times 1.96. */
function placementOf(
  key: StanceMetricKey,
  uncertainty: { pelvis: number | null; sternum: number | null },
): number | null {
  const sigma = key.startsWith('lean') ? uncertainty.sternum : uncertainty.pelvis;
  return sigma === null ? null : 2 * 1.96 * sigma;
}

function summarise(values: readonly number[]): SideSummary {
  return {
    n: values.length,
    mean: values.length > 0 ? meanOf(values) : null,
    sd: values.length > 1 ? sdOf(values) : null,
  };
}

function compare(left: readonly number[], right: readonly number[], placementDeg: number | null): MetricAsymmetry {
  const result = differenceWithInterval(left, right);
  const missing = (n: number): number => Math.max(0, STANCES_PER_SIDE_MIN - n);
  const missingStances = { left: missing(left.length), right: missing(right.length) };
  return {
    left: summarise(left),
    right: summarise(right),
    difference: result?.difference ?? null,
    ci95: result?.ci95 ?? null,
    missingStances,
    verdict: verdictOf(left.length + right.length, result, missingStances, placementDeg),
    ...(placementDeg === null ? {} : { placementUncertaintyDeg: placementDeg }),
  };
}

function verdictOf(
  n: number,
  result: { difference: number; ci95: [number, number] } | null,
  missing: { left: number; right: number },
  placementDeg: number | null,
): MetricAsymmetry['verdict'] {
  if (n === 0) return 'not measured';
  if (result === null || missing.left > 0 || missing.right > 0) return 'too few stances';
  const [low, high] = result.ci95;
  if (low <= 0 && high >= 0) return 'not more than scatter';
  if (placementDeg !== null && Math.abs(result.difference) <= placementDeg) return 'could be placement';
  return 'more than scatter';
}
