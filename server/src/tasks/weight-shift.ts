/**
 * Where the weight goes from one foot to the other: the sideways acceleration against that of a body which moves over and
 * stops, a' = (2 pi D / T^2) sin(2 pi t / T), whose way is D (integrated twice). Matched to it, the way of the pelvis comes
 * out in metres; a constant error of the acceleration, as from a tilt, cancels.
 */
import { hasBreak, indexAt, type StanceFrames } from '../stance/stance-frames.ts';
import { meanIn, type FrameWindow } from './window.ts';

/** Common practice, no source. */
export const SHIFT = {
  /** Moving over and stopping takes about this, s. */
  durationS: 0.8,
  /** The half of a narrow stance is some 8 cm; catching the balance moves the pelvis by less, and back. */
  wayMMin: 0.035,
  /** Times at which the way is looked at, s. */
  stepS: 0.02,
} as const;

export interface WeightShift {
  /** Middle of the movement, s. */
  tS: number;
  /** + to the right, m. */
  wayM: number;
}

/** In order of time. */
export function weightShiftsIn(frames: StanceFrames, window: FrameWindow): WeightShift[] {
  const shifts: WeightShift[] = [];
  let peak: WeightShift | null = null;
  const close = (): void => {
    if (peak !== null) shifts.push(peak);
    peak = null;
  };
  const endS = frames.t[window.to - 1] ?? -Infinity;
  for (let tS = frames.t[window.from] ?? Infinity; tS <= endS; tS += SHIFT.stepS) {
    const wayM = wayAt(frames, tS);
    if (!(Math.abs(wayM) >= SHIFT.wayMMin) || (peak !== null && Math.sign(peak.wayM) !== Math.sign(wayM))) close();
    if (Math.abs(wayM) >= SHIFT.wayMMin && (peak === null || Math.abs(wayM) > Math.abs(peak.wayM))) peak = { tS, wayM };
  }
  close();
  // Beside a movement the match swings over to the other sign: the weaker of two near ones is that.
  return shifts.filter(
    (s) => !shifts.some((o) => Math.abs(o.wayM) > Math.abs(s.wayM) && Math.abs(o.tS - s.tS) < SHIFT.durationS),
  );
}

/** NaN where frames are missing. */
function wayAt(frames: StanceFrames, tS: number): number {
  const { durationS } = SHIFT;
  const startS = tS - durationS / 2;
  const around = { from: indexAt(frames, startS), to: indexAt(frames, startS + durationS) };
  if (around.to - around.from < 2 || hasBreak(frames.breaks, startS, startS + durationS)) return NaN;
  if (frames.t[around.from]! - startS > durationS / 4 || startS + durationS - frames.t[around.to - 1]! > durationS / 4)
    return NaN;
  const mean = meanIn(frames.pelvisRight, around);
  let sum = 0;
  for (let i = around.from; i < around.to; i += 1) {
    sum += (frames.pelvisRight[i]! - mean) * Math.sin((2 * Math.PI * (frames.t[i]! - startS)) / durationS);
  }
  // Sum times the spacing of frames; the integral of sin^2 is half the duration.
  return ((durationS / Math.PI) * sum * durationS) / (around.to - around.from);
}
