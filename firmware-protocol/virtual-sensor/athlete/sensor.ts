/**
 * The inertial sensor: where it sits, how it is turned and how it errs. Works from the exact motion of its segment by
 * finite differences, so that the lever arm's centripetal and tangential acceleration come by themselves.
 */
import type { BodyMotion, SegmentMotion } from './body.ts';
import { orientationAt } from './body.ts';
import { GRAVITY_MPS2 } from './plan.ts';
import { Random } from './random.ts';
import {
  fromRotationVector,
  IDENTITY,
  inverse,
  multiply,
  rotate,
  toRotationVector,
  type Quat,
  type Vec3,
} from './rotation.ts';

export interface SensorModel {
  rateHz: number;
  /** Place on the segment, m in segment axes from its centre. */
  leverM: Vec3;
  /** Sensor to segment. */
  mounting: Quat;
  /** Soft tissue under the sensor; null for a sensor screwed to the bone. */
  wobble: {
    frequencyHz: number;
    damping: number;
    /** Share of the movement of a mass on that spring that the sensor makes. */
    translation: number;
    /** Turning of the sensor, rad/s^2 for each m/s^2 across it, about segment X, Y and Z. */
    rotationPerMetre: Vec3;
  } | null;
  gyro: { noiseDensity: number; biasRadPerS: Vec3; driftPerSqrtS: number; rangeRadPerS: number };
  accel: { noiseDensity: number; biasMps2: Vec3; scale: Vec3; rangeMps2: number };
  /** Own clock = offset + (1 + skew) * time. The first sample is `phaseS` after the session's start. */
  clock: { offsetS: number; skewPpm: number; phaseS: number };
  /** Lost packets: share of all samples, mean length of a burst and size of a packet. */
  loss: { share: number; burstPackets: number; samplesPerPacket: number };
}

/** Columns of one sensor: seconds of its own clock, m/s^2 (+g upwards at rest), rad/s. Lost samples are left out. */
export interface Columns {
  tS: Float64Array;
  ax: Float64Array;
  ay: Float64Array;
  az: Float64Array;
  gx: Float64Array;
  gy: Float64Array;
  gz: Float64Array;
}

export type SensorPlace = 'pelvis' | 'sternum';

const RAD = Math.PI / 180;
const USUAL_RATE_HZ = 200;
const LEVER_M: Record<SensorPlace, Vec3> = { pelvis: [-0.1, 0.02, 0], sternum: [0.11, 0.04, 0] };

/** No error of any kind; axes those of the segment. */
export function ideal(place: SensorPlace, changes: Partial<SensorModel> = {}): SensorModel {
  return {
    rateHz: USUAL_RATE_HZ,
    leverM: LEVER_M[place],
    mounting: IDENTITY,
    wobble: null,
    gyro: { noiseDensity: 0, biasRadPerS: [0, 0, 0], driftPerSqrtS: 0, rangeRadPerS: Infinity },
    accel: { noiseDensity: 0, biasMps2: [0, 0, 0], scale: [1, 1, 1], rangeMps2: Infinity },
    clock: { offsetS: 0, skewPpm: 0, phaseS: 0 },
    loss: { share: 0, burstPackets: 1, samplesPerPacket: 8 },
    ...changes,
  };
}

/**
 * A consumer sensor worn by a person, drawn by `seed`: any way up, wobbling, biased. Clock shared and nothing lost
 * unless `changes` says so.
 */
export function realistic(place: SensorPlace, seed: number, changes: Partial<SensorModel> = {}): SensorModel {
  const r = new Random(seed, `sensor ${place}`);
  const three = (sd: number): Vec3 => [sd * r.normal(), sd * r.normal(), sd * r.normal()];
  const lever = LEVER_M[place];
  const shift = three(0.012);
  return {
    rateHz: USUAL_RATE_HZ,
    leverM: [lever[0] + shift[0], lever[1] + shift[1], lever[2] + shift[2]],
    mounting: anyOrientation(r),
    // M: soft tissue under a belt-worn sensor resonates at roughly 8-15 Hz.
    wobble: {
      frequencyHz: r.between(8, 15),
      damping: r.between(0.15, 0.4),
      translation: r.between(0.2, 0.7),
      rotationPerMetre: three(3.5),
    },
    // C: 0.005 deg/s/sqrt(Hz) for a consumer part (angle random walk 0.30 deg/sqrt(h), V); M: offset of 1-10 deg/s
    // before calibration, drawn smaller as left over after the maker's own.
    gyro: {
      noiseDensity: r.between(0.004, 0.01) * RAD,
      biasRadPerS: three(0.7 * RAD),
      driftPerSqrtS: 0.002 * RAD,
      rangeRadPerS: 2000 * RAD,
    },
    // M: 100-300 ug/sqrt(Hz). Rest readings of real sensors are 9.6-10.2 m/s^2.
    accel: {
      noiseDensity: r.between(100e-6, 300e-6) * GRAVITY_MPS2,
      biasMps2: three(0.06),
      scale: [1 + 0.008 * r.normal(), 1 + 0.008 * r.normal(), 1 + 0.008 * r.normal()],
      rangeMps2: 16 * GRAVITY_MPS2,
    },
    clock: { offsetS: 0, skewPpm: 0, phaseS: 0 },
    loss: { share: 0, burstPackets: 1.5, samplesPerPacket: 8 },
    ...changes,
  };
}

/** Uniform over all orientations. */
export function anyOrientation(r: Random): Quat {
  const q = [r.normal(), r.normal(), r.normal(), r.normal()] as const;
  const n = Math.hypot(...q);
  return [q[0] / n, q[1] / n, q[2] / n, q[3] / n];
}

/** Times of the sensor's samples in session time, lost ones included. */
export function sampleTimes(model: SensorModel, endS: number): Float64Array {
  const rate = 1 + model.clock.skewPpm * 1e-6;
  const interval = 1 / (model.rateHz * rate);
  const count = Math.max(0, Math.floor((endS - model.clock.phaseS) / interval) + 1);
  return Float64Array.from({ length: count }, (_, k) => model.clock.phaseS + k * interval);
}

export function toSensorClock(model: SensorModel, sessionS: number): number {
  return model.clock.offsetS + (1 + model.clock.skewPpm * 1e-6) * sessionS;
}

export function measure(body: BodyMotion, segment: SegmentMotion, model: SensorModel, seed: number): Columns {
  const felt = feel(body, segment, model);
  const times = sampleTimes(model, (body.count - 1) * body.dt);
  const sampled = felt.map((column) => resample(column, times, body.dt));
  addErrors(sampled, model, new Random(seed, 'sensor errors'));
  const kept = survivors(times.length, model.loss, new Random(seed, 'loss'));
  const pick = (column: Float64Array) => Float64Array.from(kept, (k) => column[k]!);
  const [ax, ay, az, gx, gy, gz] = sampled.map(pick) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  return { tS: Float64Array.from(kept, (k) => toSensorClock(model, times[k]!)), ax, ay, az, gx, gy, gz };
}

/** Specific force and angular velocity in sensor axes on the fine grid: ax, ay, az, gx, gy, gz. */
function feel(body: BodyMotion, segment: SegmentMotion, model: SensorModel): Float64Array[] {
  const { count, dt } = body;
  const place = [new Float64Array(count), new Float64Array(count), new Float64Array(count)] as const;
  for (let k = 0; k < count; k++) {
    const arm = rotate(orientationAt(segment, k), model.leverM);
    place[0][k] = segment.x[k]! + arm[0];
    place[1][k] = segment.y[k]! + arm[1];
    place[2][k] = segment.z[k]! + arm[2];
  }
  const wobble = model.wobble === null ? null : wobbleOf(place, segment, model.wobble, dt);
  if (wobble !== null) {
    for (let k = 0; k < count; k++) {
      const shift = rotate(orientationAt(segment, k), [wobble[0]![k]!, wobble[1]![k]!, wobble[2]![k]!]);
      for (const axis of [0, 1, 2] as const) place[axis][k]! += shift[axis];
    }
  }
  const poseAt = (k: number): Quat => {
    const q = orientationAt(segment, k);
    if (wobble === null) return multiply(q, model.mounting);
    const tip = fromRotationVector([wobble[3]![k]!, wobble[4]![k]!, wobble[5]![k]!]);
    return multiply(multiply(q, tip), model.mounting);
  };
  const out = Array.from({ length: 6 }, () => new Float64Array(count));
  let before = poseAt(0);
  let here = poseAt(1);
  for (let k = 1; k + 1 < count; k++) {
    const after = poseAt(k + 1);
    const turn = toRotationVector(multiply(inverse(before), after));
    const force = rotate(inverse(here), [
      second(place[0], k, dt),
      second(place[1], k, dt) + GRAVITY_MPS2,
      second(place[2], k, dt),
    ]);
    for (const axis of [0, 1, 2] as const) {
      out[axis]![k] = force[axis];
      out[3 + axis]![k] = turn[axis] / (2 * dt);
    }
    before = here;
    here = after;
  }
  for (const column of out) {
    column[0] = column[1]!;
    column[count - 1] = column[count - 2]!;
  }
  return out;
}

function second(p: Float64Array, k: number, dt: number): number {
  return (p[k + 1]! - 2 * p[k]! + p[k - 1]!) / (dt * dt);
}

/** Shift (m) and tip (rad) of the sensor against its segment, in segment axes: damped springs driven by acceleration. */
function wobbleOf(
  place: readonly [Float64Array, Float64Array, Float64Array],
  segment: SegmentMotion,
  wobble: NonNullable<SensorModel['wobble']>,
  dt: number,
): Float64Array[] {
  const count = place[0].length;
  const omega = 2 * Math.PI * wobble.frequencyHz;
  const out = Array.from({ length: 6 }, () => new Float64Array(count));
  const state = new Float64Array(6);
  const rate = new Float64Array(6);
  for (let k = 1; k + 1 < count; k++) {
    const world: Vec3 = [second(place[0], k, dt), second(place[1], k, dt), second(place[2], k, dt)];
    const a = rotate(inverse(orientationAt(segment, k)), world);
    const [rx, ry, rz] = wobble.rotationPerMetre;
    // A sensor heavier on one edge tips when pushed across that edge.
    const drive = [-a[0], -a[1], -a[2], rx * (a[1] + 0.5 * a[2]), ry * (a[2] + 0.5 * a[0]), rz * (a[1] - 0.5 * a[0])];
    for (let i = 0; i < 6; i++) {
      rate[i]! += dt * (drive[i]! - omega * omega * state[i]! - 2 * wobble.damping * omega * rate[i]!);
      state[i]! += dt * rate[i]!;
      out[i]![k + 1] = state[i]! * (i < 3 ? wobble.translation : 1);
    }
  }
  return out;
}

/** Cubic through the four nearest grid points. */
function resample(column: Float64Array, times: Float64Array, dt: number): Float64Array {
  const last = column.length - 1;
  return times.map((t) => {
    const at = t / dt;
    const near = Math.round(at);
    if (Math.abs(at - near) < 1e-6) return column[Math.min(near, last)]!;
    const k = Math.min(Math.max(1, Math.floor(at)), last - 2);
    const u = at - k;
    const [a, b, c, d] = [column[k - 1]!, column[k]!, column[k + 1]!, column[k + 2]!];
    return (
      (-u * (u - 1) * (u - 2) * a) / 6 +
      ((u + 1) * (u - 1) * (u - 2) * b) / 2 -
      ((u + 1) * u * (u - 2) * c) / 2 +
      ((u + 1) * u * (u - 1) * d) / 6
    );
  });
}

function addErrors(columns: Float64Array[], model: SensorModel, random: Random): void {
  const accelSigma = model.accel.noiseDensity * Math.sqrt(model.rateHz);
  const gyroSigma = model.gyro.noiseDensity * Math.sqrt(model.rateHz);
  const driftStep = model.gyro.driftPerSqrtS / Math.sqrt(model.rateHz);
  for (const axis of [0, 1, 2] as const) {
    const accel = columns[axis]!;
    const gyro = columns[3 + axis]!;
    let bias = model.gyro.biasRadPerS[axis];
    for (let k = 0; k < accel.length; k++) {
      const force = accel[k]! * model.accel.scale[axis] + model.accel.biasMps2[axis] + accelSigma * random.normal();
      accel[k] = clip(force, model.accel.rangeMps2);
      bias += driftStep * random.normal();
      gyro[k] = clip(gyro[k]! + bias + gyroSigma * random.normal(), model.gyro.rangeRadPerS);
    }
  }
}

function clip(value: number, range: number): number {
  return Math.max(-range, Math.min(range, value));
}

/** Indices of the samples that arrive. Bursts begin at random and end at random (a two-state channel). */
function survivors(count: number, loss: SensorModel['loss'], random: Random): number[] {
  const kept: number[] = [];
  const leave = 1 / loss.burstPackets;
  const enter = loss.share <= 0 ? 0 : (leave * loss.share) / (1 - loss.share);
  let lost = false;
  for (let k = 0; k < count; k++) {
    if (k % loss.samplesPerPacket === 0) lost = lost ? random.uniform() >= leave : random.uniform() < enter;
    if (!lost) kept.push(k);
  }
  return kept;
}
