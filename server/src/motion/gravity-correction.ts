/**
 * The part of the fuse stage that looks at gravity: low-passes the specific force in the almost inertial frame, weighs what it
 * says against how unsure the tilt is, corrects, and learns the gyroscope's bias from the corrections.
 */
import { measureBias, type BiasParams, type BiasState } from './gyro-bias.ts';
import { between, dot, fromRotationVector, IDENTITY, multiply, normalise, rotate } from './quaternion.ts';
import { isSettled, startSlowMean, stepSlowMean, type SlowMean, type SlowMeanCoefficients } from './slow-mean.ts';
import type { Quaternion } from './types.ts';

export interface CorrectionParams {
  /** Time constant of the low-pass on the specific force, s: about two strides. */
  forceS: number;
  /** Time constant over which slow horizontal acceleration is remembered, s. */
  accelerationMemoryS: number;
  /** How long slow horizontal accelerations stay alike, s: turns their variance into a density. */
  accelerationCorrelationS: number;
  /** Horizontal acceleration that is never ruled out, m/s^2: accelerometer bias and residual sway. */
  accelerationFloor: number;
  /** Standard deviation of the first pose, taken from one reading of a body that may move, rad. */
  initialSigma: number;
}

const GRAVITY_NOMINAL = 9.81;

export interface CorrectionState {
  /** Almost inertial frame to earth. */
  tilt: Quaternion;
  /** Variance of the tilt per horizontal axis, rad^2. */
  variance: number;
  /** Specific force in the almost inertial frame, low-passed. */
  force: SlowMean;
  /** Mean square of the slow horizontal acceleration, m^2/s^4. */
  acceleration2: number;
  /** Rotation (two rows) and bias taken off in earth axes, low-passed like the force, and then lagging like the corrections. */
  turn: SlowMean;
  lagging: Float64Array;
}

export function startCorrection(params: CorrectionParams): CorrectionState {
  return {
    tilt: IDENTITY,
    variance: params.initialSigma ** 2,
    force: startSlowMean(3),
    acceleration2: 0,
    turn: startSlowMean(8),
    lagging: new Float64Array(8),
  };
}

export interface Shares {
  /** Share of the tilt's error taken away in this step, 0..1. */
  applied: number;
  /** Low-passed force in earth axes before the correction, m/s^2. */
  force: [number, number, number];
}

/** One correction for the last `dtS` seconds. */
export function correctTilt(
  params: CorrectionParams,
  state: CorrectionState,
  dtS: number,
  still: boolean,
  isStarting: boolean,
): Shares {
  const mean = state.force.mean;
  const force = rotate(state.tilt, mean[0]!, mean[1]!, mean[2]!);
  const slow2 = (force[0] * force[0] + force[1] * force[1]) / 2;
  const share = dtS / (params.accelerationMemoryS + dtS);
  // Rises at once, is forgotten slowly: a run-up must not have begun to tilt the pose before it is noticed.
  state.acceleration2 = Math.max(slow2, state.acceleration2 + (slow2 - state.acceleration2) * share);
  const acceleration2 = (still ? 0 : state.acceleration2) + params.accelerationFloor ** 2;
  const density = (acceleration2 / GRAVITY_NOMINAL ** 2) * params.accelerationCorrelationS;
  const gain = (state.variance * dtS) / (state.variance * dtS + density);
  // The low-pass itself cannot be followed faster than it answers.
  const applied = isStarting ? 1 : Math.min(gain, dtS / (params.forceS + dtS));
  state.tilt = normalise(multiply(partly(force, applied), state.tilt));
  state.variance *= 1 - gain;
  return { applied, force };
}

/** The rotation that takes `force` the given share of the way to the vertical. */
function partly(force: [number, number, number], share: number): Quaternion {
  const full = between(force, [0, 0, 1]);
  const sine = Math.hypot(full.x, full.y);
  if (sine < 1e-9) return IDENTITY;
  const scale = (2 * Math.atan2(sine, full.w) * share) / sine;
  return fromRotationVector(full.x * scale, full.y * scale, 0);
}

/**
 * A bias makes gravity turn away in the almost inertial frame at the rate of the bias: the corrections made per second
 * measure its horizontal part, the less so the more slow acceleration there is. The corrections lag, by the low-pass on
 * the force and by their own share; so what they are compared with, the rotation and the bias taken off, lags alike.
 *
 * @param inertial sensor to the almost inertial frame
 */
export function learnBiasInMovement(
  coefficients: SlowMeanCoefficients,
  params: BiasParams,
  state: CorrectionState,
  bias: BiasState,
  inertial: Quaternion,
  dtS: number,
  { applied, force }: Shares,
): void {
  const q = multiply(state.tilt, inertial);
  const c0 = rotate(q, 1, 0, 0);
  const c1 = rotate(q, 0, 1, 0);
  const c2 = rotate(q, 0, 0, 1);
  const [b0, b1, b2] = bias.value;
  const takenX = c0[0] * b0 + c1[0] * b1 + c2[0] * b2;
  const takenY = c0[1] * b0 + c1[1] * b1 + c2[1] * b2;
  stepSlowMean(coefficients, state.turn, [c0[0], c1[0], c2[0], c0[1], c1[1], c2[1], takenX, takenY]);
  const m = state.lagging;
  for (let i = 0; i < m.length; i += 1) m[i] = m[i]! + (state.turn.mean[i]! - m[i]!) * applied;
  if (!isSettled(coefficients, state.turn)) return;
  const length = Math.hypot(force[0], force[1], force[2]);
  const noise = (params.motionSigma ** 2 * params.motionCorrelationS) / dtS;
  const rate = applied / dtS;
  const rowX = [m[0]!, m[1]!, m[2]!] as const;
  const rowY = [m[3]!, m[4]!, m[5]!] as const;
  measureBias(bias, rowX, (-force[1] / length) * rate + m[6]! - dot(rowX, bias.value), noise);
  measureBias(bias, rowY, (force[0] / length) * rate + m[7]! - dot(rowY, bias.value), noise);
}
