/**
 * Corrections of balance: bursts of lateral tilt velocity, counted towards the side to which the segment tips. The
 * movement back right after one belongs to it. All bounds are common practice, no source.
 */
import type { StanceFrames } from '../stance/stance-frames.ts';
import { slopeAt, type FrameWindow } from './window.ts';

export const CORRECTIONS = {
  /** A burst begins above the first and has ended below the second, deg/s. */
  beginDegPerS: 10,
  endDegPerS: 5,
  /** The rate is taken over this to both sides, s. */
  halfS: 0.05,
  /** A burst that begins this soon after another has ended is the movement back, s. */
  reboundS: 0.3,
} as const;

/** @param tiltDeg + right side up; null when a frame of the window is not known. */
export function countCorrections(
  frames: StanceFrames,
  tiltDeg: readonly number[],
  window: FrameWindow,
): { left: number; right: number } | null {
  const count = { left: 0, right: 0 };
  let lastEndS = -Infinity;
  let direction = 0;
  for (let i = window.from; i < window.to; i += 1) {
    if (Number.isNaN(tiltDeg[i])) return null;
    const rate = slopeAt(frames, tiltDeg, i, CORRECTIONS.halfS);
    if (Number.isNaN(rate)) continue;
    if (direction !== 0 && direction * rate < CORRECTIONS.endDegPerS) {
      direction = 0;
      lastEndS = frames.t[i]!;
    }
    if (direction !== 0 || Math.abs(rate) < CORRECTIONS.beginDegPerS) continue;
    direction = Math.sign(rate);
    if (frames.t[i]! - lastEndS < CORRECTIONS.reboundS) continue;
    // Right side up tips to the left.
    count[direction > 0 ? 'left' : 'right'] += 1;
  }
  return window.to > window.from ? count : null;
}
