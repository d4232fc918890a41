/**
 * The baseline: the filters of the `ahrs` package behind the same step as our own (fuse.ts), for comparison only.
 *
 * The package's edges are kept away from it: it starts from gravity, never sees a value that is not finite, always gets its
 * time step, and each acceleration goes with the turn that led to it. It reports no uncertainty.
 */
import Ahrs from 'ahrs';
import { between, conjugate, multiply, normalise } from './quaternion.ts';
import { BIAS, measureStillBias, startBias, type BiasState } from './gyro-bias.ts';
import { startStillness, STILLNESS, stepStillness, type StillnessState } from './stillness.ts';
import type { FusedSample, GridSample, Quaternion } from './types.ts';

export interface AhrsChoice {
  algorithm: 'Madgwick' | 'Mahony';
  /** Madgwick's gain, Mahony's proportional gain; 0 would silently mean the package's default. */
  gain: number;
}

export interface AhrsState {
  readonly intervalS: number;
  readonly choice: AhrsChoice;
  filter: Ahrs;
  /** The package starts at identity; this turns its frame to ours. */
  start: Quaternion;
  tS: number;
  stillness: StillnessState;
  bias: BiasState;
}

/** @throws RangeError when the gain is not positive. */
export function startAhrs(rateHz: number, choice: AhrsChoice): AhrsState {
  if (!(choice.gain > 0)) throw new RangeError(`The gain must be positive, not ${choice.gain}.`);
  return {
    intervalS: 1 / rateHz,
    choice,
    filter: makeFilter(1 / rateHz, choice),
    start: { w: 1, x: 0, y: 0, z: 0 },
    tS: NaN,
    stillness: startStillness(),
    bias: startBias(BIAS),
  };
}

function makeFilter(sampleInterval: number, { algorithm, gain }: AhrsChoice): Ahrs {
  return algorithm === 'Madgwick'
    ? new Ahrs({ sampleInterval, algorithm, beta: gain })
    : new Ahrs({ sampleInterval, algorithm, kp: gain });
}

export function stepAhrs(state: AhrsState, sample: GridSample): FusedSample {
  const isFirst = sample.fresh || Number.isNaN(state.tS);
  if (isFirst) {
    state.filter = makeFilter(state.intervalS, state.choice);
    // Sensor axes turned so that the first reading points up: the filter then starts at identity and is right.
    state.start = between([sample.ax, sample.ay, sample.az], [0, 0, 1]);
    state.stillness = startStillness();
  }
  const dtS = isFirst ? state.intervalS : sample.tS - state.tS;
  state.tS = sample.tS;
  const { gx, gy, gz, ax, ay, az } = sample;
  const still = stepStillness(STILLNESS, state.stillness, dtS, sample);
  if (still) learnBias(state, dtS);
  const [bx, by, bz] = state.bias.value;
  const rate = turn(state.start, gx - bx, gy - by, gz - bz);
  const force = turn(state.start, ax, ay, az);
  // Exactly (0, 0, 1) at identity makes the package's first update NaN for good, and Mahony drops a sample with an exact 0.
  const nudge = 1e-9;
  state.filter.update(
    rate[0],
    rate[1],
    rate[2],
    force[0] + nudge,
    force[1] + nudge,
    force[2],
    undefined,
    undefined,
    undefined,
    dtS,
  );
  return {
    ...sample,
    orientation: normalise(multiply(state.filter.getQuaternion(), state.start)),
    biasX: bx,
    biasY: by,
    biasZ: bz,
    still,
    tiltSigma: NaN,
  };
}

function learnBias(state: AhrsState, dtS: number): void {
  const noise = ((BIAS.stillSigma ** 2 + state.stillness.rateVariance) * BIAS.stillCorrelationS) / dtS;
  const [mx, my, mz, ax, ay, az] = state.stillness.mean as [number, number, number, number, number, number];
  const [tx, ty, tz] = state.stillness.forceTurn;
  measureStillBias(BIAS, state.bias, [mx - tx, my - ty, mz - tz], [ax, ay, az], noise, dtS);
}

function turn(q: Quaternion, x: number, y: number, z: number): [number, number, number] {
  const v = multiply(multiply(q, { w: 0, x, y, z }), conjugate(q));
  return [v.x, v.y, v.z];
}
