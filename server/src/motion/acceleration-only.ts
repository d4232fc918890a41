/**
 * Stage `fuse` for a sensor without a gyroscope: the pose is taken as fixed, its vertical the mean specific force. Enough
 * for contacts; it gives no angles and no side, and the result says so.
 */
import { between, normalise } from './quaternion.ts';
import type { FusedSample, GridSample, Quaternion, SegmentFrame } from './types.ts';

/** Pose from the mean of all samples. */
export function fixedPose(samples: readonly GridSample[]): Quaternion {
  let x = 0;
  let y = 0;
  let z = 0;
  for (const s of samples) {
    x += s.ax;
    y += s.ay;
    z += s.az;
  }
  return normalise(between([x, y, z], [0, 0, 1]));
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
