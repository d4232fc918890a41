/**
 * Stage `mount`: from a sensor's pose to that of the segment it sits on (pelvis or thorax), in ISB axes.
 *
 * The mounting is the rotation from sensor to segment axes. It comes from the lead-in (mounting-lead-in.ts) or, weaker,
 * from movement (mounting-movement.ts); without one the stage gives no frames.
 */
import { rotateInto } from './quaternion.ts';
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
  /** Of the last sample: specific force in earth axes, m/s^2, and rate in segment axes, rad/s. */
  force: Float64Array;
  rate: Float64Array;
}

export const GRAVITY_NOMINAL = 9.80665;

export function startMount(mounting: Quaternion | null, gravity = GRAVITY_NOMINAL): MountState {
  return { mounting, gravity, heading: NaN, isFresh: true, force: new Float64Array(3), rate: new Float64Array(3) };
}

export function setMounting(state: MountState, mounting: Quaternion, gravity: number): void {
  state.mounting = mounting;
  state.gravity = gravity;
  state.heading = NaN;
  state.isFresh = true;
}

export function stepMount(state: MountState, sample: FusedSample): SegmentFrame[] {
  if (sample.fresh) state.isFresh = true;
  const { mounting } = state;
  if (mounting === null) return [];
  const { orientation } = sample;
  // Segment to earth (z up): the pose times the conjugate of the mounting. Written out, since this runs for every sample.
  const w =
    orientation.w * mounting.w + orientation.x * mounting.x + orientation.y * mounting.y + orientation.z * mounting.z;
  const x =
    -orientation.w * mounting.x + orientation.x * mounting.w - orientation.y * mounting.z + orientation.z * mounting.y;
  const y =
    -orientation.w * mounting.y + orientation.x * mounting.z + orientation.y * mounting.w - orientation.z * mounting.x;
  const z =
    -orientation.w * mounting.z - orientation.x * mounting.y + orientation.y * mounting.x + orientation.z * mounting.w;

  // The horizontal direction at right angles to the right axis: independent of obliquity and forward tilt.
  const hx = -2 * (y * z - w * x);
  const hy = 2 * (w * y + x * z);
  const length = Math.hypot(hx, hy);
  const fx = length > 1e-6 ? hx / length : 1 - 2 * y * y - 2 * z * z;
  const fy = length > 1e-6 ? hy / length : 2 * (w * z + x * y);

  const { force, rate } = state;
  rotateInto(force, orientation, sample.ax, sample.ay, sample.az);
  rotateInto(rate, mounting, sample.gx - sample.biasX, sample.gy - sample.biasY, sample.gz - sample.biasZ);
  const fresh = state.isFresh;
  state.isFresh = false;
  state.heading = unwrap(fresh ? NaN : state.heading, Math.atan2(fy, fx));
  return [
    {
      tS: sample.tS,
      filled: sample.filled,
      fresh,
      still: sample.still,
      forward: force[0]! * fx + force[1]! * fy,
      up: force[2]! - state.gravity,
      right: force[0]! * fy - force[1]! * fx,
      rollRate: rate[0]!,
      yawRate: rate[1]!,
      pitchRate: rate[2]!,
      lateralTilt: Math.asin(clampUnit(1 - 2 * x * x - 2 * y * y)),
      // The third angle of rotation-obliquity-tilt (Baker 2001).
      forwardTilt: Math.atan2(-2 * (x * z - w * y), 2 * (w * x + y * z)),
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
