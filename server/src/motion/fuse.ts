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
  correctTilt,
  learnBiasInMovement,
  startCorrection,
  type CorrectionParams,
  type CorrectionState,
} from './gravity-correction.ts';
import {
  BIAS,
  biasSigma,
  growBias,
  measureStillBias,
  startBias,
  type BiasParams,
  type BiasState,
} from './gyro-bias.ts';
import { emptyPose } from './pose-track.ts';
import { between, identity, multiplyInto, rotateInto, turnBy } from './quaternion.ts';
import { slowMeanCoefficients, stepSlowMean, type SlowMeanCoefficients } from './slow-mean.ts';
import { startStillness, stepStillness, STILLNESS, type StillnessParams, type StillnessState } from './stillness.ts';
import type { FusedSample, GridSample, Quaternion } from './types.ts';

export interface FusionParams extends CorrectionParams {
  /** Corrections per second, once started: far more than gravity's low-pass can use, far fewer than samples. */
  correctionHz: number;
  /** Relative error of the gyroscope's scale and axes: unsureness grows with fast turning. */
  rateError: number;
  /** How long such errors add up alike, s. */
  rateCorrelationS: number;
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
  initialSigma: (8 * Math.PI) / 180,
  correctionHz: 50,
  rateError: 0.01,
  rateCorrelationS: 0.1,
  bridgeS: 1,
  bridgeRate: 0.5,
  stillness: STILLNESS,
  bias: BIAS,
};

/** Made once from the parameters and the sample rate. */
export interface FusionCoefficients {
  readonly params: FusionParams;
  readonly intervalS: number;
  readonly samplesPerCorrection: number;
  readonly force: SlowMeanCoefficients;
  /** The same low-pass at the rate of the corrections. */
  readonly turn: SlowMeanCoefficients;
}

export interface FusionState {
  readonly coefficients: FusionCoefficients;
  started: boolean;
  tS: number;
  /** Sensor to the almost inertial frame. */
  inertial: Quaternion;
  correction: CorrectionState;
  /** Samples and seconds since the last correction. */
  waitingSamples: number;
  waitingS: number;
  bias: BiasState;
  stillness: StillnessState;
}

export function startFusion(rateHz: number, params: FusionParams = FUSION): FusionState {
  const samplesPerCorrection = Math.max(1, Math.round(rateHz / params.correctionHz));
  return {
    coefficients: {
      params,
      intervalS: 1 / rateHz,
      samplesPerCorrection,
      force: slowMeanCoefficients(rateHz, params.forceS),
      turn: slowMeanCoefficients(rateHz / samplesPerCorrection, params.forceS),
    },
    started: false,
    tS: 0,
    inertial: identity(),
    correction: startCorrection(params),
    waitingSamples: 0,
    waitingS: 0,
    bias: startBias(params.bias),
    stillness: startStillness(),
  };
}

export function stepFusion(state: FusionState, sample: GridSample): FusedSample {
  return fuseInto(emptyPose(), state, sample);
}

/** The same into `out`, where the pose is not kept: nothing is allocated. @returns `out` */
export function fuseInto(out: FusedSample, state: FusionState, sample: GridSample): FusedSample {
  out.still = advanceFusion(state, sample);
  out.tS = sample.tS;
  out.ax = sample.ax;
  out.ay = sample.ay;
  out.az = sample.az;
  out.gx = sample.gx;
  out.gy = sample.gy;
  out.gz = sample.gz;
  out.filled = sample.filled;
  out.fresh = sample.fresh;
  multiplyInto(out.orientation, state.correction.tilt, state.inertial);
  const bias = state.bias.value;
  out.biasX = bias[0];
  out.biasY = bias[1];
  out.biasZ = bias[2];
  out.tiltSigma = Math.sqrt(state.correction.variance);
  return out;
}

/** The same without putting the result together: the pose is in `state`. @returns whether the sensor is still. */
export function advanceFusion(state: FusionState, sample: GridSample): boolean {
  const { params, intervalS } = state.coefficients;
  const { tS, filled, fresh } = sample;
  const isFirst = !state.started || (fresh && tS - state.tS > params.bridgeS);
  if (isFirst) restart(state, sample);
  const dtS = isFirst ? intervalS : tS - state.tS;
  if (fresh && !isFirst) bridge(state, dtS);

  const still = stepStillness(params.stillness, state.stillness, dtS, sample) && !filled;
  // Across a gap the rate of neither end holds for long.
  if (!isFirst) integrate(state, sample, fresh ? Math.min(dtS, intervalS) : dtS);
  if (!filled) lookAtGravity(state, sample, still);
  waitOrCorrect(state, dtS, still);
  state.tS = tS;
  return still;
}

/**
 * Over a short gap the pose before it is a better guess than one reading of a body in motion; how far the body may have
 * turned meanwhile is added to what is unsure.
 */
function bridge(state: FusionState, gapS: number): void {
  const { initialSigma, bridgeRate } = state.coefficients.params;
  const { correction } = state;
  correction.variance = Math.min(initialSigma ** 2, correction.variance + (bridgeRate * gapS) ** 2);
  state.stillness = startStillness();
}

/** After a long gap the pose comes from gravity anew; what is known of the bias stays. */
function restart(state: FusionState, sample: GridSample): void {
  state.started = true;
  state.inertial = between([sample.ax, sample.ay, sample.az], [0, 0, 1]);
  state.correction = startCorrection(state.coefficients.params);
  state.stillness = startStillness();
}

/** A sensor's rate is its mean over the interval that the sample ends (measured on BROAD: docs/algorithms/fusion.md). */
function integrate(state: FusionState, sample: GridSample, dtS: number): void {
  const { params } = state.coefficients;
  const { correction, bias } = state;
  const { value } = bias;
  const wx = sample.gx - value[0];
  const wy = sample.gy - value[1];
  const wz = sample.gz - value[2];
  turnBy(state.inertial, wx * dtS, wy * dtS, wz * dtS);
  const rate2 = wx * wx + wy * wy + wz * wz;
  // A constant bias error adds up alike: its variance grows with the square of time, here from where it stands.
  const drift =
    2 * biasSigma(bias) * Math.sqrt(correction.variance) + params.rateError ** 2 * rate2 * params.rateCorrelationS;
  correction.variance = Math.min(params.initialSigma ** 2, correction.variance + drift * dtS);
}

function lookAtGravity(state: FusionState, sample: GridSample, still: boolean): void {
  const { params, force: coefficients } = state.coefficients;
  const { correction } = state;
  rotateInto(correction.force.input, state.inertial, sample.ax, sample.ay, sample.az);
  stepSlowMean(coefficients, correction.force);
  // At the start every sample counts: the low-pass is still a running mean.
  if (correction.force.count <= coefficients.settleSamples) {
    correctTilt(params, correction, state.coefficients.intervalS, still, true);
  }
}

function waitOrCorrect(state: FusionState, dtS: number, still: boolean): void {
  const { params, samplesPerCorrection, force, turn } = state.coefficients;
  state.waitingSamples += 1;
  state.waitingS += dtS;
  if (state.waitingSamples < samplesPerCorrection) return;
  const elapsedS = state.waitingS;
  state.waitingSamples = 0;
  state.waitingS = 0;
  growBias(params.bias, state.bias, elapsedS);
  if (still) measureStill(state, elapsedS);
  if (state.correction.force.count <= force.settleSamples) return;
  const applied = correctTilt(params, state.correction, elapsedS, still, false);
  learnBiasInMovement(turn, params.bias, state.correction, state.bias, state.inertial, elapsedS, applied);
}

function measureStill(state: FusionState, dtS: number): void {
  const { bias } = state.coefficients.params;
  const noise = ((bias.stillSigma ** 2 + state.stillness.rateVariance) * bias.stillCorrelationS) / dtS;
  const [mx, my, mz, ax, ay, az] = state.stillness.mean as [number, number, number, number, number, number];
  const [tx, ty, tz] = state.stillness.forceTurn;
  measureStillBias(bias, state.bias, [mx - tx, my - ty, mz - tz], [ax, ay, az], noise, dtS);
}
