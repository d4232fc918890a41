/** A result as the analysis makes it, from stances whose values are sums of powers of two: their means are exact. */
import { STANCE_METRIC_KEYS, type Stance, type StanceMetricKey } from '../../shared/src/index.ts';
import { summariseAsymmetry, type AsymmetryTable } from '../../server/src/asymmetry/summary.ts';
import type { ExportedTrial } from '../../server/src/exchange/fhir-bundle.ts';
import type { Bundle, Observation, ObservationComponent } from '../../server/src/exchange/fhir-types.ts';
import type { FinalResult } from '../../server/src/store/final-result.ts';
import { makeResult, makeStance } from '../support/sample-result.ts';

/** Of a side. In each half of them the value is off the mean by the same, once above and once below. */
const STANCES = 8;
const OFF = 0.125;
export const LEFT_MEAN = 3.25;
export const RIGHT_MEAN = 2.5;

/** Not in any stance of the sample. */
export const NOT_MEASURED: StanceMetricKey = 'peakForceN';
/** In one stance of the left alone. */
export const TOO_FEW: StanceMetricKey = 'lateralSwayM';

export function sampleAsymmetry(): AsymmetryTable {
  return summariseAsymmetry(Array.from({ length: 2 * STANCES }, (_, k) => sampleStance(k)));
}

function sampleStance(k: number): Stance {
  const side = k % 2 === 0 ? 'left' : 'right';
  const stance = makeStance(k, side);
  const off = k % 4 < 2 ? OFF : -OFF;
  for (const metric of STANCE_METRIC_KEYS) stance[metric] = (side === 'left' ? LEFT_MEAN : RIGHT_MEAN) + off;
  stance[NOT_MEASURED] = null;
  if (k > 0) stance[TOO_FEW] = null;
  return stance;
}

export const sampleTrial: ExportedTrial = {
  id: '5b0e4a53-6a0f-4c56-9b3a-0d8b1c8f6a11',
  athleteId: '0f0a7c1e-6a3c-4a0e-8a55-1d7f5f0e2b22',
  task: 'run',
  startedUtcMs: Date.UTC(2026, 2, 4, 9, 30, 0, 250),
  endedUtcMs: Date.UTC(2026, 2, 4, 9, 31, 10, 5),
};

export function sampleFinal(changes: Partial<FinalResult> = {}): FinalResult {
  const table = sampleAsymmetry();
  return {
    version: 'test-1',
    dataComplete: true,
    problem: null,
    discarded: false,
    quality: makeResult().quality,
    metrics: STANCE_METRIC_KEYS.map((metric) => [metric, table[metric]!]),
    ...changes,
  };
}

export function observationFor(bundle: Bundle, metric: StanceMetricKey): Observation {
  const found = bundle.entry?.find(({ resource }) => resource.code.coding[0]?.code === metric);
  if (!found) throw new Error(`The bundle has no observation of ${metric}.`);
  return found.resource;
}

export function partOf(observation: Observation, part: string): ObservationComponent {
  const found = observation.component.filter(({ code }) => code.coding[0]?.code === part);
  if (found.length !== 1) throw new Error(`The observation has ${found.length} components for ${part}.`);
  return found[0]!;
}
