/** The frames that stances are measured on, as columns: all of a recording, or the last seconds of a live stream. */
import { DEG_PER_RAD } from '@ambipede/shared';
import type { AngleFrame, PairedFrame } from '../motion/types.ts';

export interface StanceFrames {
  /** Seconds of the pelvis clock, increasing. */
  t: number[];
  obliquityDeg: number[];
  trunkTiltDeg: number[];
  separationDeg: number[];
  /** Vertical acceleration without gravity, m/s^2; NaN without a sternum sensor. */
  pelvisUp: number[];
  sternumUp: number[];
  /** About the vertical, deg/s. */
  yawRateDegPerS: number[];
  /** Times of breaks: no stance may span one. */
  breaks: number[];
}

export function startStanceFrames(): StanceFrames {
  return {
    t: [],
    obliquityDeg: [],
    trunkTiltDeg: [],
    separationDeg: [],
    pelvisUp: [],
    sternumUp: [],
    yawRateDegPerS: [],
    breaks: [],
  };
}

export function addStanceFrame(frames: StanceFrames, paired: PairedFrame, angles: AngleFrame): void {
  if (paired.pelvis.fresh) frames.breaks.push(paired.tS);
  frames.t.push(paired.tS);
  frames.obliquityDeg.push(angles.pelvicObliquityDeg);
  frames.trunkTiltDeg.push(angles.trunkLateralTiltDeg);
  frames.separationDeg.push(angles.separationDeg);
  frames.pelvisUp.push(paired.pelvis.up);
  frames.sternumUp.push(paired.sternum?.up ?? NaN);
  frames.yawRateDegPerS.push(paired.pelvis.yawRate * DEG_PER_RAD);
}

/** Forgets what is older than `beforeS`, in blocks, so that the cost per frame stays small. */
export function trimStanceFrames(frames: StanceFrames, beforeS: number): void {
  const cut = indexAt(frames, beforeS);
  if (cut < TRIM_BLOCK) return;
  for (const column of [
    frames.t,
    frames.obliquityDeg,
    frames.trunkTiltDeg,
    frames.separationDeg,
    frames.pelvisUp,
    frames.sternumUp,
    frames.yawRateDegPerS,
  ]) {
    column.splice(0, cut);
  }
  frames.breaks = frames.breaks.filter((t) => t >= beforeS);
}
const TRIM_BLOCK = 512;

/** Index of the first frame at or after `tS`. */
export function indexAt(frames: StanceFrames, tS: number): number {
  let low = 0;
  let high = frames.t.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (frames.t[middle]! < tS) low = middle + 1;
    else high = middle;
  }
  return low;
}
