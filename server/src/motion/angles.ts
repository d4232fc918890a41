/**
 * Stage `angles`: degrees for the screen and the results file. Obliquity and lateral tilt need gravity only. Separation
 * needs two headings that drift apart without a magnetometer, so its slow mean is taken out: only its changes count.
 */
import { DEG_PER_RAD } from '@ambipede/shared';
import type { AngleFrame, PairedFrame } from './types.ts';

/** Time constant of the slow mean of the separation, s: several strides, yet faster than heading drift. */
export const SEPARATION_MEAN_S = 4;

export interface AngleState {
  tS: number;
  /** Slow mean of thorax minus pelvis heading, rad; NaN before the first. */
  separationMean: number;
  /** Seconds that the mean stands on. */
  ageS: number;
}

export function startAngles(): AngleState {
  return { tS: NaN, separationMean: NaN, ageS: 0 };
}

export function stepAngles(state: AngleState, frame: PairedFrame): AngleFrame {
  const { pelvis, sternum } = frame;
  return {
    tS: frame.tS,
    pelvicObliquityDeg: pelvis.lateralTilt * DEG_PER_RAD,
    pelvicTiltDeg: pelvis.forwardTilt * DEG_PER_RAD,
    trunkLateralTiltDeg: (sternum?.lateralTilt ?? NaN) * DEG_PER_RAD,
    trunkForwardTiltDeg: (sternum?.forwardTilt ?? NaN) * DEG_PER_RAD,
    separationDeg:
      sternum === null
        ? NaN
        : separation(state, frame.tS, sternum.heading - pelvis.heading, pelvis.fresh || sternum.fresh),
  };
}

function separation(state: AngleState, tS: number, raw: number, fresh: boolean): number {
  if (Number.isNaN(raw)) return NaN;
  if (fresh || Number.isNaN(state.separationMean)) {
    state.separationMean = raw;
    state.ageS = 0;
  } else {
    const dtS = tS - state.tS;
    state.ageS = Math.min(SEPARATION_MEAN_S, state.ageS + dtS);
    state.separationMean += ((raw - state.separationMean) * dtS) / (state.ageS + dtS);
  }
  state.tS = tS;
  return (raw - state.separationMean) * DEG_PER_RAD;
}
