/** The frames that stances and tasks are measured on, as columns: all of a recording, or the last seconds of a live stream. */
import { DEG_PER_RAD } from '@ambipede/shared';
import type { AngleFrame, PairedFrame } from '../motion/types.ts';

const COLUMNS = [
  't',
  'obliquityDeg',
  'trunkTiltDeg',
  'pelvicTiltDeg',
  'trunkForwardTiltDeg',
  'separationDeg',
  'pelvisUp',
  'pelvisForward',
  'pelvisRight',
  'sternumUp',
  'yawRateDegPerS',
  'trunkYawRateDegPerS',
  'headingDeg',
  'turnDeg',
] as const;

/**
 * NaN where not known. `t`: seconds of the pelvis clock, increasing. `separationDeg`: slow mean taken out. `...Up`,
 * `...Forward`, `...Right`: acceleration without gravity, m/s^2, in the horizontal frame that follows the pelvis's
 * heading. `...YawRateDegPerS`: about the segment's own vertical axis. `headingDeg`: of the pelvis, + to the left,
 * unwrapped, arbitrary zero. `turnDeg`: thorax heading minus pelvis heading, unwrapped, arbitrary zero.
 */
export type StanceFrames = Record<(typeof COLUMNS)[number], number[]> & {
  /** Times of breaks: no stance may span one. */
  breaks: number[];
  /** Times at which a heading began anew, of either segment: no turn may span one. */
  headingBreaks: number[];
};

export function startStanceFrames(): StanceFrames {
  const columns = Object.fromEntries(COLUMNS.map((name) => [name, [] as number[]]));
  return { ...(columns as Record<(typeof COLUMNS)[number], number[]>), breaks: [], headingBreaks: [] };
}

export function addStanceFrame(frames: StanceFrames, paired: PairedFrame, angles: AngleFrame): void {
  const { pelvis, sternum, tS } = paired;
  if (pelvis.fresh) frames.breaks.push(tS);
  if (pelvis.fresh || sternum?.fresh) frames.headingBreaks.push(tS);
  frames.t.push(tS);
  frames.obliquityDeg.push(angles.pelvicObliquityDeg);
  frames.trunkTiltDeg.push(angles.trunkLateralTiltDeg);
  frames.pelvicTiltDeg.push(angles.pelvicTiltDeg);
  frames.trunkForwardTiltDeg.push(angles.trunkForwardTiltDeg);
  frames.separationDeg.push(angles.separationDeg);
  frames.pelvisUp.push(pelvis.up);
  frames.pelvisForward.push(pelvis.forward);
  frames.pelvisRight.push(pelvis.right);
  frames.sternumUp.push(sternum?.up ?? NaN);
  frames.yawRateDegPerS.push(pelvis.yawRate * DEG_PER_RAD);
  frames.trunkYawRateDegPerS.push((sternum?.yawRate ?? NaN) * DEG_PER_RAD);
  frames.headingDeg.push(pelvis.heading * DEG_PER_RAD);
  frames.turnDeg.push(((sternum?.heading ?? NaN) - pelvis.heading) * DEG_PER_RAD);
}

/** Appends to `frames` what `source` has after its end, from `fromS` on. */
export function followStanceFrames(frames: StanceFrames, source: StanceFrames, fromS: number): void {
  const lastS = frames.t[frames.t.length - 1] ?? -Infinity;
  const isNew = (t: number): boolean => t > lastS && t >= fromS;
  let start = indexAt(source, Math.max(lastS, fromS));
  if (source.t[start] === lastS) start += 1;
  for (const name of COLUMNS) {
    const [to, from] = [frames[name], source[name]];
    for (let i = start; i < from.length; i += 1) to.push(from[i]!);
  }
  frames.breaks.push(...source.breaks.filter(isNew));
  frames.headingBreaks.push(...source.headingBreaks.filter(isNew));
}

/** Those frames for which `isKept` says so of their index, with the same breaks. */
export function someStanceFrames(frames: StanceFrames, isKept: (i: number) => boolean): StanceFrames {
  const columns = COLUMNS.map((name) => [name, frames[name].filter((_, i) => isKept(i))]);
  return { ...frames, ...(Object.fromEntries(columns) as Record<(typeof COLUMNS)[number], number[]>) };
}

/** Forgets what is older than `beforeS`, in blocks, so that the cost per frame stays small. */
export function trimStanceFrames(frames: StanceFrames, beforeS: number): void {
  // Nearly always there is nothing to do yet.
  if (!(frames.t[TRIM_BLOCK - 1]! < beforeS)) return;
  const cut = indexAt(frames, beforeS);
  for (const name of COLUMNS) frames[name].splice(0, cut);
  frames.breaks = frames.breaks.filter((t) => t >= beforeS);
  frames.headingBreaks = frames.headingBreaks.filter((t) => t >= beforeS);
}
const TRIM_BLOCK = 512;

/** Index of the first frame at or after `tS`. */
export function indexAt(frames: { t: ArrayLike<number> }, tS: number): number {
  let low = 0;
  let high = frames.t.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (frames.t[middle]! < tS) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** A break lies after `fromS` and not after `toS`. */
export function hasBreak(breaks: readonly number[], fromS: number, toS: number): boolean {
  for (const t of breaks) if (t > fromS && t <= toS) return true;
  return false;
}
