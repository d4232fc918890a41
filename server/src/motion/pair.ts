/**
 * Stage `pair`: pelvis and sternum at the same instants, those of the pelvis. The sternum's frames are interpolated. A
 * pelvis frame waits for the sternum at most `STERNUM_WAIT_S`; then it goes on alone, so that a lost sternum sensor does
 * not stop the pelvis.
 */
import type { Place } from '@ambipede/shared';
import type { PairedFrame, SegmentFrame } from './types.ts';

export const STERNUM_WAIT_S = 0.1;
/** Sternum frames further apart than this are not interpolated between. */
export const STERNUM_STEP_S_MAX = 0.06;

export interface PairState {
  waiting: SegmentFrame[];
  sternum: SegmentFrame[];
  /** False until a sternum frame has come: then nobody waits for one. */
  hasSternum: boolean;
}

export function startPair(): PairState {
  return { waiting: [], sternum: [], hasSternum: false };
}

export function stepPair(state: PairState, place: Place, frame: SegmentFrame): PairedFrame[] {
  if (place === 'sternum') {
    state.hasSternum = true;
    state.sternum.push(frame);
    dropOldSternum(state);
  } else {
    state.waiting.push(frame);
  }
  const newest = state.waiting[state.waiting.length - 1];
  const out: PairedFrame[] = [];
  if (newest === undefined) return out;
  while (state.waiting.length > 0) {
    const pelvis = state.waiting[0]!;
    const sternumReached = state.sternum[state.sternum.length - 1]?.tS ?? -Infinity;
    const isReached = !state.hasSternum || sternumReached >= pelvis.tS;
    if (!isReached && newest.tS - pelvis.tS < STERNUM_WAIT_S) break;
    state.waiting.shift();
    out.push({ tS: pelvis.tS, pelvis, sternum: isReached ? sternumAt(state, pelvis.tS) : null });
  }
  return out;
}

/** At the end of a recording nobody else comes. */
export function flushPair(state: PairState): PairedFrame[] {
  const out = state.waiting.map((pelvis) => ({ tS: pelvis.tS, pelvis, sternum: sternumAt(state, pelvis.tS) }));
  state.waiting = [];
  return out;
}

/** Sternum frames are kept back to the oldest waiting pelvis frame, and a little more for a pelvis that is behind. */
const STERNUM_KEPT_MAX = 1024;

function dropOldSternum(state: PairState): void {
  if (state.sternum.length > STERNUM_KEPT_MAX) state.sternum.splice(0, state.sternum.length - STERNUM_KEPT_MAX);
}

function sternumAt(state: PairState, tS: number): SegmentFrame | null {
  const frames = state.sternum;
  while (frames.length > 1 && frames[1]!.tS <= tS) frames.shift();
  const before = frames[0];
  const after = frames[1];
  if (before === undefined || before.tS > tS) return null;
  if (before.tS === tS) return before;
  if (after === undefined || after.fresh || after.tS - before.tS > STERNUM_STEP_S_MAX) return null;
  return between(before, after, (tS - before.tS) / (after.tS - before.tS), tS);
}

function between(a: SegmentFrame, b: SegmentFrame, share: number, tS: number): SegmentFrame {
  return {
    tS,
    filled: a.filled || b.filled,
    fresh: a.fresh,
    still: a.still && b.still,
    forward: mix(a.forward, b.forward, share),
    up: mix(a.up, b.up, share),
    right: mix(a.right, b.right, share),
    rollRate: mix(a.rollRate, b.rollRate, share),
    yawRate: mix(a.yawRate, b.yawRate, share),
    pitchRate: mix(a.pitchRate, b.pitchRate, share),
    lateralTilt: mix(a.lateralTilt, b.lateralTilt, share),
    forwardTilt: mix(a.forwardTilt, b.forwardTilt, share),
    heading: mix(a.heading, b.heading, share),
    tiltSigma: mix(a.tiltSigma, b.tiltSigma, share),
  };
}

function mix(from: number, to: number, share: number): number {
  return from + (to - from) * share;
}
