import { STANCE_METRIC_KEYS, WAVEFORM_POINTS } from '../../shared/src/index.ts';
import type { MetricAsymmetry, Stance, StanceMetrics } from '../../shared/src/index.ts';
import type { StoredResult } from '../../server/src/store/save-result.ts';

/** A stance with values that are told apart; every third metric could not be measured. */
export function makeStance(id: number, side: Stance['side']): Stance {
  const metrics = Object.fromEntries(STANCE_METRIC_KEYS.map((key, k) => [key, k % 3 === 2 ? null : id + k / 7]));
  return {
    ...(metrics as StanceMetrics),
    id,
    revision: 1,
    side,
    initialContact: 10 + id * 0.5,
    toeOff: 10.3 + id * 0.5,
    sidePosterior: 0.99,
    gait: 'run',
  };
}

export function makeAsymmetry(changes: Partial<MetricAsymmetry> = {}): MetricAsymmetry {
  return {
    left: { n: 8, mean: 7.9, sd: 0.61 },
    right: { n: 7, mean: 4.1, sd: null },
    difference: 3.8,
    ci95: [3.1, 4.5],
    missingStances: { left: 0, right: 0 },
    verdict: 'more than scatter',
    placementUncertainty: 2.352,
    ...changes,
  };
}

export function makeResult(): StoredResult {
  const notMeasured = makeAsymmetry({ difference: null, ci95: null, verdict: 'not measured' });
  delete notMeasured.placementUncertainty;
  return {
    version: 'test-1',
    stances: [makeStance(1, 'left'), makeStance(3, 'right'), makeStance(4, 'unknown'), makeStance(7, 'left')],
    asymmetry: { stepTimeS: notMeasured, swingSideDropDeg: makeAsymmetry() },
    quality: {
      gaps: 1,
      samplesFilled: 4,
      stancesLost: 2,
      stancesLostBy: { gap: 2 },
      mounting: {},
      settling: 0.5,
      remarks: ['A remark with "quotes" and a back\\slash.'],
    },
    waveforms: {
      left: { swingSideHeightDeg: curve(2), leanToStanceDeg: curve(1), sideBendDeg: null, separationDeg: null },
      right: { swingSideHeightDeg: curve(1), leanToStanceDeg: null, sideBendDeg: null, separationDeg: null },
    },
    taskSummary: {
      stand: [],
      singleLegStand: [],
      runUp: [{ startS: 10, endS: 19.5, lastStances: [1, 3], takeOff: null, landing: null }],
      landing: [],
      halfTurn: [],
      remarks: ['No flight.'],
    },
  };
}

function curve(n: number): { n: number; mean: number[]; sd: number[] | null } {
  const mean = Array.from({ length: WAVEFORM_POINTS }, (_, k) => k / 7 - 3);
  return { n, mean, sd: n > 1 ? mean.map((value) => value / 10 + 1) : null };
}
