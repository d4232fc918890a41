/** Sensors in motions that can be written down: exact samples and the exact pose. */
import {
  fromRotationVector,
  multiply,
  conjugate,
  cross,
  dot,
  rotate,
  type Vector,
} from '../../server/src/motion/quaternion.ts';
import type { FusedSample, ImuSample, Quaternion } from '../../server/src/motion/types.ts';
import { DEG_PER_RAD } from '@ambipede/shared';

export const GRAVITY = 9.81;

/** A turn at a constant rate (rad/s, sensor axes) for some seconds; no rate is a rest. */
export interface Phase {
  seconds: number;
  rate?: Vector;
}

const REST: Vector = [0, 0, 0];

export interface ExactSample extends ImuSample {
  /** Sensor to earth (z up). */
  pose: Quaternion;
}

/** Samples of a sensor that turns in place; the rate of a sample is that of the interval which it ends. */
export function turnInPlace(
  start: Quaternion,
  phases: readonly Phase[],
  rateHz: number,
  errors: { gyroBias?: Vector } = {},
): ExactSample[] {
  const [bx, by, bz] = errors.gyroBias ?? REST;
  const out: ExactSample[] = [];
  let pose = start;
  const push = (rate: Vector): void => {
    const [ax, ay, az] = rotate(conjugate(pose), 0, 0, GRAVITY);
    out.push({ tS: out.length / rateHz, ax, ay, az, gx: rate[0] + bx, gy: rate[1] + by, gz: rate[2] + bz, pose });
  };
  push(REST);
  for (const { seconds, rate = REST } of phases) {
    const step = fromRotationVector(rate[0] / rateHz, rate[1] / rateHz, rate[2] / rateHz);
    for (let i = 0; i < Math.round(seconds * rateHz); i += 1) {
      pose = multiply(pose, step);
      push(rate);
    }
  }
  return out;
}

/** Angle between the vertical as estimated and as it is, in degrees. */
export function tiltErrorDeg(estimated: FusedSample, pose: Quaternion): number {
  const seen = rotate(conjugate(estimated.orientation), 0, 0, 1);
  const truth = rotate(conjugate(pose), 0, 0, 1);
  return Math.atan2(Math.hypot(...cross(seen, truth)), dot(seen, truth)) * DEG_PER_RAD;
}

export function largestTiltErrorDeg(estimated: readonly FusedSample[], exact: readonly ExactSample[]): number {
  return Math.max(...estimated.map((sample, i) => tiltErrorDeg(sample, exact[i]!.pose)));
}
