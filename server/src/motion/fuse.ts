/**
 * Stage `fuse`: one sensor's orientation against gravity, from gyroscope and accelerometer.
 *
 *   gyroscope - bias > integrate (almost inertial frame) -----------------------------------> orientation
 *                     \-> specific force turned into that frame > low-pass > tilt correction /
 *
 * In an almost inertial frame the accelerations of a moving body average out while gravity stays, so a low-pass there
 * leaves gravity (published idea: Laidig & Seel 2023, Inf Fusion 91:187-204). What does not average out is sustained
 * acceleration: a run-up, a curve, a take-off. So the correction is weighed as in a Kalman filter: by how unsure the
 * pose has become (gyroscope bias, fast turning) against how much slow horizontal acceleration there is. In a run-up
 * that all but holds the correction; in quiet standing it acts at once (docs/algorithms/fusion.md).
 */
import {
  BIAS,
  biasSigma,
  growBias,
  measureBias,
  measureStillBias,
  startBias,
  type BiasParams,
  type BiasState,
} from './gyro-bias.ts';
import { between, dot, fromRotationVector, IDENTITY, multiply, normalise, rotate } from './quaternion.ts';
import {
  isSettled,
  slowMeanCoefficients,
  startSlowMean,
  stepSlowMean,
  type SlowMean,
  type SlowMeanCoefficients,
} from './slow-mean.ts';
import { startStillness, stepStillness, STILLNESS, type StillnessParams, type StillnessState } from './stillness.ts';
import type { FusedSample, GridSample, Quaternion } from './types.ts';

export interface FusionParams {
  /** Time constant of the low-pass on the specific force, s: about two strides. */
  forceS: number;
  /** Time constant over which slow horizontal acceleration is remembered, s. */
  accelerationMemoryS: number;
  /** How long slow horizontal accelerations stay alike, s: turns their variance into a density. */
  accelerationCorrelationS: number;
  /** Horizontal acceleration that is never ruled out, m/s^2: accelerometer bias and residual sway. */
  accelerationFloor: number;
  /** Relative error of the gyroscope's scale and axes: unsureness grows with fast turning. */
  rateError: number;
  /** How long such errors add up alike, s. */
  rateCorrelationS: number;
  /** Standard deviation of the first pose, taken from one reading of a body that may move, rad. */
  initialSigma: number;
  /** A gap up to this long is bridged with the pose before it, s. */
  bridgeS: number;
  /** How fast a body may turn unseen about a horizontal axis, once its rates at both ends are allowed for, rad/s. */
  bridgeRate: number;
  stillness: StillnessParams;
  bias: BiasParams;
}

export const FUSION: FusionParams = {
  forceS: 1,
  accelerationMemoryS: 1.5,
  accelerationCorrelationS: 1,
  accelerationFloor: 0.03,
  rateError: 0.01,
  rateCorrelationS: 0.1,
  initialSigma: (8 * Math.PI) / 180,
  bridgeS: 1,
  bridgeRate: 0.5,
  stillness: STILLNESS,
  bias: BIAS,
};

const GRAVITY_NOMINAL = 9.81;

/** Made once from the parameters and the sample rate. */
export interface FusionCoefficients {
  readonly params: FusionParams;
  readonly intervalS: number;
  readonly force: SlowMeanCoefficients;
}

export interface FusionState {
  readonly coefficients: FusionCoefficients;
  started: boolean;
  tS: number;
  /** Sensor to the almost inertial frame. */
  inertial: Quaternion;
  /** Almost inertial frame to earth. */
  tilt: Quaternion;
  /** Specific force in the almost inertial frame, low-passed. */
  force: SlowMean;
  /** Rotation (two rows) and bias taken off in earth axes, low-passed like the force, and then lagging like the corrections. */
  turn: SlowMean;
  lagging: Float64Array;
  bias: BiasState;
  stillness: StillnessState;
  /** Mean square of the slow horizontal acceleration, m^2/s^4. */
  acceleration2: number;
  /** Variance of the tilt per horizontal axis, rad^2. */
  tiltVariance: number;
}

export function startFusion(rateHz: number, params: FusionParams = FUSION): FusionState {
  return {
    coefficients: { params, intervalS: 1 / rateHz, force: slowMeanCoefficients(rateHz, params.forceS) },
    started: false,
    tS: 0,
    inertial: IDENTITY,
    tilt: IDENTITY,
    force: startSlowMean(3),
    turn: startSlowMean(8),
    lagging: new Float64Array(8),
    bias: startBias(params.bias),
    stillness: startStillness(),
    acceleration2: 0,
    tiltVariance: params.initialSigma ** 2,
  };
}

export function stepFusion(state: FusionState, sample: GridSample): FusedSample {
  const { params, intervalS } = state.coefficients;
  const isFirst = !state.started || (sample.fresh && sample.tS - state.tS > params.bridgeS);
  if (isFirst) restart(state, sample);
  const dtS = isFirst ? intervalS : sample.tS - state.tS;
  if (sample.fresh && !isFirst) bridge(state, dtS);

  growBias(params.bias, state.bias, dtS);
  const { gx, gy, gz, ax, ay, az } = sample;
  const still = stepStillness(params.stillness, state.stillness, dtS, gx, gy, gz, ax, ay, az) && !sample.filled;
  if (still) measureStill(state, dtS);

  // Across a gap the rate of neither end holds for long.
  if (!isFirst) integrate(state, sample, sample.fresh ? Math.min(dtS, intervalS) : dtS);
  if (!sample.filled) correct(state, sample, dtS, still);
  state.tS = sample.tS;
  const [biasX, biasY, biasZ] = state.bias.value;
  return {
    tS: sample.tS,
    ax,
    ay,
    az,
    gx,
    gy,
    gz,
    filled: sample.filled,
    fresh: sample.fresh,
    orientation: multiply(state.tilt, state.inertial),
    biasX,
    biasY,
    biasZ,
    still,
    tiltSigma: Math.sqrt(state.tiltVariance),
  };
}

/**
 * Over a short gap the pose before it is a better guess than one reading of a body in motion; how far the body may have
 * turned meanwhile is added to what is unsure.
 */
function bridge(state: FusionState, gapS: number): void {
  const { initialSigma, bridgeRate } = state.coefficients.params;
  state.tiltVariance = Math.min(initialSigma ** 2, state.tiltVariance + (bridgeRate * gapS) ** 2);
  state.stillness = startStillness();
}

/** After a long gap the pose comes from gravity anew; what is known of the bias stays. */
function restart(state: FusionState, sample: GridSample): void {
  state.started = true;
  state.inertial = between([sample.ax, sample.ay, sample.az], [0, 0, 1]);
  state.tilt = IDENTITY;
  state.force = startSlowMean(3);
  state.turn = startSlowMean(8);
  state.lagging = new Float64Array(8);
  state.stillness = startStillness();
  state.acceleration2 = 0;
  state.tiltVariance = state.coefficients.params.initialSigma ** 2;
}

/** A sensor's rate is its mean over the interval that the sample ends (measured on BROAD: docs/algorithms/fusion.md). */
function integrate(state: FusionState, sample: GridSample, dtS: number): void {
  const { params } = state.coefficients;
  const [bx, by, bz] = state.bias.value;
  const wx = sample.gx - bx;
  const wy = sample.gy - by;
  const wz = sample.gz - bz;
  state.inertial = normalise(multiply(state.inertial, fromRotationVector(wx * dtS, wy * dtS, wz * dtS)));
  const rate2 = wx * wx + wy * wy + wz * wz;
  const bias = biasSigma(state.bias);
  // A constant bias error adds up alike: its variance grows with the square of time, here from where it stands.
  const drift = 2 * bias * Math.sqrt(state.tiltVariance) + params.rateError ** 2 * rate2 * params.rateCorrelationS;
  state.tiltVariance = Math.min(params.initialSigma ** 2, state.tiltVariance + drift * dtS);
}

function measureStill(state: FusionState, dtS: number): void {
  const { bias } = state.coefficients.params;
  const sigma2 = bias.stillSigma ** 2 + state.stillness.rateVariance;
  const noise = (sigma2 * bias.stillCorrelationS) / dtS;
  const [mx, my, mz, ax, ay, az] = state.stillness.mean as [number, number, number, number, number, number];
  const [tx, ty, tz] = state.stillness.forceTurn;
  measureStillBias(bias, state.bias, [mx - tx, my - ty, mz - tz], [ax, ay, az], noise, dtS);
}

function correct(state: FusionState, sample: GridSample, dtS: number, still: boolean): void {
  const { params, force: coefficients } = state.coefficients;
  stepSlowMean(coefficients, state.force, rotate(state.inertial, sample.ax, sample.ay, sample.az));
  const mean = state.force.mean;
  const [x, y, z] = rotate(state.tilt, mean[0]!, mean[1]!, mean[2]!);

  const slow2 = (x * x + y * y) / 2;
  const share = dtS / (params.accelerationMemoryS + dtS);
  // Rises at once, is forgotten slowly: a run-up must not have begun to tilt the pose before it is noticed.
  state.acceleration2 = Math.max(slow2, state.acceleration2 + (slow2 - state.acceleration2) * share);
  const floor2 = params.accelerationFloor ** 2;
  const acceleration2 = (still ? 0 : state.acceleration2) + floor2;
  const density = (acceleration2 / GRAVITY_NOMINAL ** 2) * params.accelerationCorrelationS;
  const gain = (state.tiltVariance * dtS) / (state.tiltVariance * dtS + density);
  // The low-pass itself cannot be followed faster than it answers.
  const applied = Math.min(gain, dtS / (params.forceS + dtS));
  const startupShare = state.force.count <= coefficients.settleSamples ? 1 : applied;
  state.tilt = normalise(multiply(partly([x, y, z], startupShare), state.tilt));
  state.tiltVariance *= 1 - gain;
  measureInMovement(state, dtS, x, y, z, startupShare);
}

/** The rotation that takes `force` the given share of the way to the vertical. */
function partly(force: [number, number, number], share: number): Quaternion {
  const full = between(force, [0, 0, 1]);
  const half = Math.atan2(Math.hypot(full.x, full.y), full.w);
  if (half < 1e-9) return IDENTITY;
  const scale = (2 * half * share) / Math.hypot(full.x, full.y);
  return fromRotationVector(full.x * scale, full.y * scale, 0);
}

/**
 * A bias makes gravity turn away in the almost inertial frame at the rate of the bias: the corrections made per second
 * measure its horizontal part, the less so the more slow acceleration there is. The corrections lag, by the low-pass on
 * the force and by their own share; so what they are compared with, the rotation and the bias taken off, lags alike.
 */
function measureInMovement(state: FusionState, dtS: number, x: number, y: number, z: number, share: number): void {
  const { params, force: coefficients } = state.coefficients;
  const q = multiply(state.tilt, state.inertial);
  const c0 = rotate(q, 1, 0, 0);
  const c1 = rotate(q, 0, 1, 0);
  const c2 = rotate(q, 0, 0, 1);
  const [b0, b1, b2] = state.bias.value;
  const takenX = c0[0] * b0 + c1[0] * b1 + c2[0] * b2;
  const takenY = c0[1] * b0 + c1[1] * b1 + c2[1] * b2;
  stepSlowMean(coefficients, state.turn, [c0[0], c1[0], c2[0], c0[1], c1[1], c2[1], takenX, takenY]);
  const m = state.lagging;
  for (let i = 0; i < m.length; i += 1) m[i] = m[i]! + (state.turn.mean[i]! - m[i]!) * share;
  if (!isSettled(coefficients, state.force)) return;
  const length = Math.hypot(x, y, z);
  const noise = (params.bias.motionSigma ** 2 * params.bias.motionCorrelationS) / dtS;
  const rate = share / dtS;
  const rowX = [m[0]!, m[1]!, m[2]!] as const;
  const rowY = [m[3]!, m[4]!, m[5]!] as const;
  measureBias(state.bias, rowX, (-y / length) * rate + m[6]! - dot(rowX, state.bias.value), noise);
  measureBias(state.bias, rowY, (x / length) * rate + m[7]! - dot(rowY, state.bias.value), noise);
}
