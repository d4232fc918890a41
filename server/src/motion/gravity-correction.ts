/**
 * The part of the fuse stage that looks at gravity: low-passes the specific force in the almost inertial frame, weighs what it
 * says against how unsure the tilt is, corrects, and learns the gyroscope's bias from the corrections.
 */
import { measureBias, type BiasParams, type BiasState } from './gyro-bias.ts';
import {
  dot,
  fromRotationVector,
  identity,
  IDENTITY,
  multiply,
  rotateInto,
  toVerticalInto,
  turnAfter,
} from './quaternion.ts';
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
  /** The same in earth axes as the last correction found it, m/s^2. */
  earthForce: Float64Array;
  /** Mean square of the slow horizontal acceleration, m^2/s^4. */
  acceleration2: number;
  /** Rotation (two rows) and bias taken off in earth axes, low-passed like the force, and then lagging like the corrections. */
  turn: SlowMean;
  lagging: Float64Array;
}

export function startCorrection(params: CorrectionParams): CorrectionState {
  return {
    tilt: identity(),
    variance: params.initialSigma ** 2,
    force: startSlowMean(3),
    earthForce: new Float64Array(3),
    acceleration2: 0,
    turn: startSlowMean(8),
    lagging: new Float64Array(8),
  };
}

/**
 * One correction for the last `dtS` seconds.
 * @returns share of the tilt's error taken away, 0..1
 */
export function correctTilt(
  params: CorrectionParams,
  state: CorrectionState,
  dtS: number,
  still: boolean,
  isStarting: boolean,
): number {
  const { earthForce, force } = state;
  rotateInto(earthForce, state.tilt, force.mean[0]!, force.mean[1]!, force.mean[2]!);
  const x = earthForce[0]!;
  const y = earthForce[1]!;
  const slow2 = (x * x + y * y) / 2;
  const share = dtS / (params.accelerationMemoryS + dtS);
  // Rises at once, is forgotten slowly: a run-up must not have begun to tilt the pose before it is noticed.
  state.acceleration2 = Math.max(slow2, state.acceleration2 + (slow2 - state.acceleration2) * share);
  const acceleration2 = (still ? 0 : state.acceleration2) + params.accelerationFloor ** 2;
  const density = (acceleration2 / GRAVITY_NOMINAL ** 2) * params.accelerationCorrelationS;
  const gain = (state.variance * dtS) / (state.variance * dtS + density);
  // The low-pass itself cannot be followed faster than it answers.
  const applied = isStarting ? 1 : Math.min(gain, dtS / (params.forceS + dtS));
  turnAfter(state.tilt, partly(earthForce, applied));
  state.variance *= 1 - gain;
  return applied;
}

/** The rotation that takes `force` the given share of the way to the vertical. */
function partly(force: Float64Array, share: number): Quaternion {
  const full = identity();
  toVerticalInto(full, force[0]!, force[1]!, force[2]!);
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
 * @param applied as `correctTilt` returned it
 */
export function learnBiasInMovement(
  coefficients: SlowMeanCoefficients,
  params: BiasParams,
  state: CorrectionState,
  bias: BiasState,
  inertial: Quaternion,
  dtS: number,
  applied: number,
): void {
  const { turn, earthForce, lagging: m } = state;
  rotationAndTurnTaken(turn.input, multiply(state.tilt, inertial), bias.value);
  stepSlowMean(coefficients, turn);
  for (let i = 0; i < m.length; i += 1) m[i] = m[i]! + (turn.mean[i]! - m[i]!) * applied;
  if (!isSettled(coefficients, turn)) return;
  const length = Math.hypot(earthForce[0]!, earthForce[1]!, earthForce[2]!);
  const noise = (params.motionSigma ** 2 * params.motionCorrelationS) / dtS;
  const rate = applied / dtS;
  const rowX = [m[0]!, m[1]!, m[2]!] as const;
  const rowY = [m[3]!, m[4]!, m[5]!] as const;
  measureBias(bias, rowX, (-earthForce[1]! / length) * rate + m[6]! - dot(rowX, bias.value), noise);
  measureBias(bias, rowY, (earthForce[0]! / length) * rate + m[7]! - dot(rowY, bias.value), noise);
}

/** The two horizontal rows of the rotation `q`, and the bias seen through them. */
function rotationAndTurnTaken(out: Float64Array, q: Quaternion, bias: readonly [number, number, number]): void {
  const { w, x, y, z } = q;
  out[0] = 1 - 2 * y * y - 2 * z * z;
  out[1] = 2 * (x * y - w * z);
  out[2] = 2 * (w * y + x * z);
  out[3] = 2 * (w * z + x * y);
  out[4] = 1 - 2 * z * z - 2 * x * x;
  out[5] = 2 * (y * z - w * x);
  out[6] = out[0] * bias[0] + out[1] * bias[1] + out[2] * bias[2];
  out[7] = out[3] * bias[0] + out[4] * bias[1] + out[5] * bias[2];
}
