/** Frames of a span of time, and what several tasks ask of them. Bounds here are common practice, no source. */
import type { TiltSway } from '@ambipede/shared';
import { indexAt, type StanceFrames } from '../stance/stance-frames.ts';

/** Seconds of the pelvis clock. */
export interface Span {
  startS: number;
  endS: number;
}

/** Indices of frames, `to` not included. */
export interface FrameWindow {
  from: number;
  to: number;
}

export const WINDOW = {
  /** Tilts are averaged over this before sway is taken, so that sensor noise does not add to the path, s. */
  swayBlockS: 0.1,
  /** Shorter spans show no sway, s. */
  swaySMin: 2,
  /** Quiet: the acceleration stays under this for that long, m/s^2 and s. */
  quietMps2: 0.5,
  quietS: 1,
  /** Averaged over this, s. */
  quietBlockS: 0.1,
} as const;

export function windowOf(frames: StanceFrames, span: Span): FrameWindow {
  return { from: indexAt(frames, span.startS), to: indexAt(frames, span.endS) };
}

/** NaN when a frame is not known, or there is none. */
export function meanIn(column: readonly number[], { from, to }: FrameWindow): number {
  let sum = 0;
  for (let i = from; i < to; i += 1) sum += column[i]!;
  return sum / (to - from);
}

/** Value furthest from zero, with its sign; NaN when a frame is not known, or there is none. */
export function furthestIn(column: readonly number[], { from, to }: FrameWindow): number {
  let furthest = from < to ? 0 : NaN;
  for (let i = from; i < to; i += 1) {
    const value = column[i]!;
    if (Number.isNaN(value)) return NaN;
    if (Math.abs(value) > Math.abs(furthest)) furthest = value;
  }
  return furthest;
}

export function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}

/** Change per second around frame `i`, over `halfS` to both sides; NaN at the ends and beside unknown frames. */
export function slopeAt(frames: StanceFrames, column: readonly number[], i: number, halfS: number): number {
  const before = indexAt(frames, frames.t[i]! - halfS - 1e-9);
  const after = indexAt(frames, frames.t[i]! + halfS - 1e-9);
  if (before >= i || after <= i || after >= frames.t.length) return NaN;
  return (column[after]! - column[before]!) / (frames.t[after]! - frames.t[before]!);
}

/** Null when the span is too short or a frame is not known. */
export function tiltSway(
  frames: StanceFrames,
  lateral: readonly number[],
  forward: readonly number[],
  window: FrameWindow,
): TiltSway | null {
  const durationS = durationOf(frames, window);
  if (!(durationS >= WINDOW.swaySMin)) return null;
  const side = blockMeans(frames, lateral, window, WINDOW.swayBlockS);
  const front = blockMeans(frames, forward, window, WINDOW.swayBlockS);
  if (![...side, ...front].every(Number.isFinite)) return null;
  let path = 0;
  for (let k = 1; k < side.length; k += 1) path += Math.hypot(side[k]! - side[k - 1]!, front[k]! - front[k - 1]!);
  const pathS = (side.length - 1) * WINDOW.swayBlockS;
  return { lateralRmsDeg: scatterOf(side), forwardRmsDeg: scatterOf(front), pathDegPerS: path / pathS };
}

export function durationOf(frames: StanceFrames, { from, to }: FrameWindow): number {
  return to - from > 1 ? frames.t[to - 1]! - frames.t[from]! : 0;
}

function blockMeans(frames: StanceFrames, column: readonly number[], window: FrameWindow, blockS: number): number[] {
  const means: number[] = [];
  const startS = frames.t[window.from]!;
  let from = window.from;
  for (let k = 1; from < window.to; k += 1) {
    const to = indexAt(frames, startS + k * blockS - 1e-9);
    if (to > window.to) break;
    if (to > from) means.push(meanIn(column, { from, to }));
    from = to;
  }
  return means;
}

function scatterOf(values: readonly number[]): number {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  return Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / values.length);
}

/** Seconds from `fromS` until the pelvis begins to stay quiet; null when it does not before `untilS` or a break. */
export function settleTime(frames: StanceFrames, fromS: number, untilS: number): number | null {
  const breakS = frames.breaks.find((t) => t > fromS) ?? Infinity;
  const { from, to } = windowOf(frames, { startS: fromS, endS: Math.min(untilS, breakS) });
  let quietFromS = fromS;
  for (let i = from; i < to; i += 1) {
    const block = { from: i, to: Math.min(to, indexAt(frames, frames.t[i]! + WINDOW.quietBlockS)) };
    const size = Math.hypot(
      ...[frames.pelvisUp, frames.pelvisForward, frames.pelvisRight].map((column) => meanSize(column, block)),
    );
    if (!(size < WINDOW.quietMps2)) quietFromS = frames.t[block.to - 1]!;
    else if (frames.t[i]! - quietFromS >= WINDOW.quietS) return quietFromS - fromS;
  }
  return null;
}

function meanSize(column: readonly number[], { from, to }: FrameWindow): number {
  let sum = 0;
  for (let i = from; i < to; i += 1) sum += Math.abs(column[i]!);
  return sum / (to - from);
}
