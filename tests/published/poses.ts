/** Poses of a segment written down from axes, for the tests of this folder. Earth is z up; x is forward before turning. */
import { DEG_PER_RAD, RAD_PER_DEG } from '@ambipede/shared';
import { startMount, stepMount } from '../../server/src/motion/mount.ts';
import { fromColumns, fromRotationVector, IDENTITY, multiply } from '../../server/src/motion/quaternion.ts';
import type { FusedSample, Quaternion, SegmentFrame } from '../../server/src/motion/types.ts';

/** Standing upright and facing earth x: the segment's X forward, Y up, Z to the right (so along -y of earth). */
export const UPRIGHT: Quaternion = fromColumns([1, 0, 0], [0, 0, 1], [0, -1, 0]);

/** A turn about one of the segment's own axes, by the right-hand rule. */
export function about(axis: 'x' | 'y' | 'z', deg: number): Quaternion {
  const angle = deg * RAD_PER_DEG;
  return fromRotationVector(axis === 'x' ? angle : 0, axis === 'y' ? angle : 0, axis === 'z' ? angle : 0);
}

export function sequence(...turns: Quaternion[]): Quaternion {
  return turns.reduce(multiply);
}

/** Segment to earth: turned by `turns` from UPRIGHT, outermost first. */
export function poseOf(...turns: Quaternion[]): Quaternion {
  return sequence(UPRIGHT, ...turns);
}

/** What the mount stage makes of a segment in this pose under a sensor that sits on it as `mounting` says. */
export function frameOf(pose: Quaternion, changes: Partial<FusedSample> = {}, mounting = IDENTITY): SegmentFrame {
  const sample: FusedSample = {
    tS: 0,
    ax: 0,
    ay: 0,
    az: 0,
    gx: 0,
    gy: 0,
    gz: 0,
    filled: false,
    fresh: true,
    orientation: multiply(pose, mounting),
    biasX: 0,
    biasY: 0,
    biasZ: 0,
    still: false,
    tiltSigma: 0,
    ...changes,
  };
  return stepMount(startMount(mounting), sample)[0]!;
}

export function anglesOf(pose: Quaternion, mounting = IDENTITY): { lateralDeg: number; forwardDeg: number } {
  const frame = frameOf(pose, {}, mounting);
  return { lateralDeg: frame.lateralTilt * DEG_PER_RAD, forwardDeg: frame.forwardTilt * DEG_PER_RAD };
}
