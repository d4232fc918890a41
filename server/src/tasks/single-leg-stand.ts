/**
 * Single-leg stand. Two sensors on the trunk cannot tell for sure which foot stands, so the coach marks it; without the
 * mark the side-relative values stay unknown.
 */
import type { Side, SingleLegStand } from '@ambipede/shared';
import { signOf } from '../stance/measure.ts';
import { hasBreak, type StanceFrames } from '../stance/stance-frames.ts';
import { countCorrections } from './corrections.ts';
import { SHIFT, weightShiftsIn, type WeightShift } from './weight-shift.ts';
import { durationOf, finite, meanIn, tiltSway, windowOf, type FrameWindow, type Span } from './window.ts';

export const HELD = {
  /** A step down or a hop: the vertical acceleration, averaged over the time below, is beyond this, m/s^2 (common practice, no source). */
  stepMps2: 2,
  blockS: 0.1,
  /**
   * The free foot leaves when nine tenths of the weight's way are done, and touches when a tenth is: a quarter of the
   * shift's time from its middle, s (common practice, no source). The posture is taken where all of it is done.
   */
  shiftS: SHIFT.durationS / 4,
} as const;

export function singleLegStand(frames: StanceFrames, span: Span, side: Side | null, remarks: string[]): SingleLegStand {
  if (side === null)
    remarks.push('The standing foot was not marked: mark the span single-leg-stand-left or single-leg-stand-right.');
  const window = windowOf(frames, span);
  const shifts = weightShiftsIn(frames, window);
  const held = longestHeld(frames, window, shifts, HELD.shiftS);
  const settled = longestHeld(frames, held, shifts, SHIFT.durationS / 2);
  const towards = shifts.filter((s) => s.tS <= (frames.t[held.from] ?? -Infinity)).at(-1);
  if (side !== null && towards !== undefined && towards.wayM > 0 !== (side === 'right'))
    remarks.push(`The weight went over to the other foot than the ${side} one that is marked: check the mark.`);
  const sign = signOf(side);
  const sideBend = frames.trunkTiltDeg.map((tilt, i) => tilt - frames.obliquityDeg[i]!);
  const hasTrunk = Number.isFinite(meanIn(frames.trunkTiltDeg, settled));
  return {
    ...span,
    side,
    heldS: durationOf(frames, held),
    swingSideHeightDeg: finite(sign * meanIn(frames.obliquityDeg, settled)),
    leanToStanceDeg: finite(sign * meanIn(frames.trunkTiltDeg, settled)),
    sideBendDeg: finite(sign * meanIn(sideBend, settled)),
    sway: {
      pelvis: tiltSway(frames, frames.obliquityDeg, frames.pelvicTiltDeg, settled),
      trunk: tiltSway(frames, frames.trunkTiltDeg, frames.trunkForwardTiltDeg, settled),
    },
    corrections: countCorrections(frames, hasTrunk ? frames.trunkTiltDeg : frames.obliquityDeg, settled),
  };
}

/** Longest run of frames without a step, a hop, a break, or a weight shift nearer than `apartS`. */
function longestHeld(
  frames: StanceFrames,
  window: FrameWindow,
  shifts: readonly WeightShift[],
  apartS: number,
): FrameWindow {
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
    const isStep = !(Math.abs(sum / (i - oldest + 1)) <= HELD.stepMps2);
    if (isStep || shifts.some((s) => Math.abs(frames.t[i]! - s.tS) < apartS)) from = i + 1;
    if (i + 1 - from > best.to - best.from) best = { from, to: i + 1 };
  }
  return best;
}
