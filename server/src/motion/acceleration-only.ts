/**
 * Stage `fuse` for a sensor without a gyroscope: the pose is taken as fixed, its vertical the mean specific force. Enough
 * for contacts; it gives no angles and no side, and the result says so.
 */
import { between, normalise } from './quaternion.ts';
import type { FusedSample, GridSample, Quaternion, SegmentFrame } from './types.ts';

/**
 * Pose from the mean of all samples. When an axis was not recorded (always 0) the mean points somewhere between the
 * others; the axis that carries most of it is then taken as the vertical, unturned.
 */
export function fixedPose(samples: readonly GridSample[]): Quaternion {
  let x = 0;
  let y = 0;
  let z = 0;
  for (const s of samples) {
    x += s.ax;
    y += s.ay;
    z += s.az;
  }
  const isMissingAxis = x === 0 || y === 0 || z === 0;
  const largest = Math.max(Math.abs(x), Math.abs(y), Math.abs(z));
  const kept = (sum: number): number => (isMissingAxis && Math.abs(sum) < largest ? 0 : sum);
  return normalise(between([kept(x), kept(y), kept(z)], [0, 0, 1]));
}

export function fuseWithFixedPose(sample: GridSample, orientation: Quaternion): FusedSample {
  return { ...sample, gx: 0, gy: 0, gz: 0, orientation, biasX: 0, biasY: 0, biasZ: 0, still: false, tiltSigma: NaN };
}

/** What such a frame cannot know is NaN. */
export function withoutAngles(frame: SegmentFrame): SegmentFrame {
  return {
    ...frame,
    rollRate: NaN,
    yawRate: NaN,
    pitchRate: NaN,
    lateralTilt: NaN,
    forwardTilt: NaN,
    heading: NaN,
  };
}
