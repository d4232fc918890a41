/**
 * Stage `mount`: from a sensor's pose to that of the segment it sits on (pelvis or thorax), in ISB axes.
 *
 * The mounting is the rotation from sensor to segment axes. It comes from the lead-in (mounting-lead-in.ts) or, weaker,
 * from movement (mounting-movement.ts); without one the stage gives no frames.
 */
import { conjugate, multiply, rotate } from './quaternion.ts';
import type { FusedSample, Quaternion, SegmentFrame } from './types.ts';

export interface MountState {
  /** Sensor to segment axes (x forward, y up, z right); null until known. */
  mounting: Quaternion | null;
  /** Size of gravity as this sensor reads it, m/s^2: real accelerometers have scale errors. */
  gravity: number;
  /** Heading of the last frame, unwrapped, rad. */
  heading: number;
  /** The next frame begins a new run: after a gap, or with another mounting. */
  isFresh: boolean;
}

export const GRAVITY_NOMINAL = 9.80665;

export function startMount(mounting: Quaternion | null, gravity = GRAVITY_NOMINAL): MountState {
  return { mounting, gravity, heading: NaN, isFresh: true };
}

export function setMounting(state: MountState, mounting: Quaternion, gravity: number): void {
  state.mounting = mounting;
  state.gravity = gravity;
  state.heading = NaN;
  state.isFresh = true;
}

export function stepMount(state: MountState, sample: FusedSample): SegmentFrame[] {
  if (sample.fresh) state.isFresh = true;
  if (state.mounting === null) return [];
  // Segment to earth (z up).
  const pose = multiply(sample.orientation, conjugate(state.mounting));
  const forwardAxis = rotate(pose, 1, 0, 0);
  const upAxis = rotate(pose, 0, 1, 0);
  const rightAxis = rotate(pose, 0, 0, 1);

  // The horizontal direction at right angles to the right axis: independent of obliquity and forward tilt.
  const hx = -rightAxis[1];
  const hy = rightAxis[0];
  const length = Math.hypot(hx, hy);
  const fx = length > 1e-6 ? hx / length : forwardAxis[0];
  const fy = length > 1e-6 ? hy / length : forwardAxis[1];

  const force = rotate(sample.orientation, sample.ax, sample.ay, sample.az);
  const rate = rotate(state.mounting, sample.gx - sample.biasX, sample.gy - sample.biasY, sample.gz - sample.biasZ);
  const fresh = state.isFresh;
  state.isFresh = false;
  state.heading = unwrap(fresh ? NaN : state.heading, Math.atan2(fy, fx));
  return [
    {
      tS: sample.tS,
      filled: sample.filled,
      fresh,
      still: sample.still,
      forward: force[0] * fx + force[1] * fy,
      up: force[2] - state.gravity,
      right: force[0] * fy - force[1] * fx,
      rollRate: rate[0],
      yawRate: rate[1],
      pitchRate: rate[2],
      lateralTilt: Math.asin(clampUnit(rightAxis[2])),
      // The third angle of rotation-obliquity-tilt (Baker 2001).
      forwardTilt: Math.atan2(-forwardAxis[2], upAxis[2]),
      heading: state.heading,
      tiltSigma: sample.tiltSigma,
    },
  ];
}

function clampUnit(x: number): number {
  return x > 1 ? 1 : x < -1 ? -1 : x;
}

/** The angle nearest to `previous` that is `angle` plus whole turns. */
function unwrap(previous: number, angle: number): number {
  return Number.isNaN(previous) ? angle : angle - 2 * Math.PI * Math.round((angle - previous) / (2 * Math.PI));
}
