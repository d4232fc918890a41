/**
 * Single-leg stand. Two sensors on the trunk cannot tell for sure which foot stands, so the coach marks it; without the
 * mark the side-relative values stay unknown.
 */
import type { Side, SingleLegStand } from '@ambipede/shared';
import { signOf } from '../stance/measure.ts';
import { hasBreak, type StanceFrames } from '../stance/stance-frames.ts';
import { countCorrections } from './corrections.ts';
import { durationOf, finite, meanIn, tiltSway, windowOf, type FrameWindow, type Span } from './window.ts';

export const HELD = {
  /** A step down or a hop: the vertical acceleration, averaged over the time below, is beyond this, m/s^2 (common practice, no source). */
  stepMps2: 2,
  blockS: 0.1,
} as const;

export function singleLegStand(frames: StanceFrames, span: Span, side: Side | null, remarks: string[]): SingleLegStand {
  if (side === null)
    remarks.push('The standing foot was not marked: mark the span single-leg-stand-left or single-leg-stand-right.');
  const held = longestHeld(frames, windowOf(frames, span));
  const sign = signOf(side);
  const sideBend = frames.trunkTiltDeg.map((tilt, i) => tilt - frames.obliquityDeg[i]!);
  const hasTrunk = Number.isFinite(meanIn(frames.trunkTiltDeg, held));
  return {
    ...span,
    side,
    heldS: durationOf(frames, held),
    swingSideHeightDeg: finite(sign * meanIn(frames.obliquityDeg, held)),
    leanToStanceDeg: finite(sign * meanIn(frames.trunkTiltDeg, held)),
    sideBendDeg: finite(sign * meanIn(sideBend, held)),
    sway: {
      pelvis: tiltSway(frames, frames.obliquityDeg, frames.pelvicTiltDeg, held),
      trunk: tiltSway(frames, frames.trunkTiltDeg, frames.trunkForwardTiltDeg, held),
    },
    corrections: countCorrections(frames, hasTrunk ? frames.trunkTiltDeg : frames.obliquityDeg, held),
  };
}

/** Longest run of frames without a step, a hop or a break. */
function longestHeld(frames: StanceFrames, window: FrameWindow): FrameWindow {
  let best: FrameWindow = { from: window.from, to: window.from };
  let from = window.from;
  let sum = 0;
  let oldest = window.from;
  for (let i = window.from; i < window.to; i += 1) {
    sum += frames.pelvisUp[i]!;
    while (frames.t[i]! - frames.t[oldest]! > HELD.blockS) {
      sum -= frames.pelvisUp[oldest]!;
      oldest += 1;
    }
    const isBroken = i > window.from && hasBreak(frames.breaks, frames.t[i - 1]!, frames.t[i]!);
    if (isBroken) from = i;
    if (!(Math.abs(sum / (i - oldest + 1)) <= HELD.stepMps2)) from = i + 1;
    if (i + 1 - from > best.to - best.from) best = { from, to: i + 1 };
  }
  return best;
}
