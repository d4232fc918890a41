/** Gathers angle frames between two live messages, and keeps the last seconds for a dashboard that comes back. */
import type { LiveMessage } from '@ambipede/shared';
import type { AngleFrame } from '../motion/types.ts';

/** While a sensor catches up, older points are left out beyond twenty seconds at 200 Hz. */
export const POINTS_MAX = 4000;

/** A dashboard that was away gets so much again, which is what it draws (web/src/charts/trace-buffer.ts). */
export const TOLD_AGAIN_MS = 10_000;
/** And no denser than this: a line as wide as a screen has no more points. */
export const TOLD_AGAIN_STEP_MS = 20;

type AnglesMessage = Extract<LiveMessage, { type: 'angles' }>;

type Point = [utcMs: number, obliquity: number | null, trunk: number | null];

export class AngleBuffer {
  #utcMs: number[] = [];
  #obliquity: (number | null)[] = [];
  #trunk: (number | null)[] = [];
  /** Told already, oldest first. */
  #told: Point[] = [];

  push(frame: AngleFrame, baseUtcMs: number): void {
    this.#add(baseUtcMs + frame.tS * 1000, rounded(frame.pelvicObliquityDeg), rounded(frame.trunkLateralTiltDeg));
  }

  /** A point without values: the line breaks here. */
  breakAt(utcMs: number): void {
    this.#add(utcMs, null, null);
  }

  /** What has gathered since the last call; null when nothing has. */
  take(): AnglesMessage | null {
    if (this.#utcMs.length === 0) return null;
    const message: AnglesMessage = {
      type: 'angles',
      utcMs: this.#utcMs,
      pelvicObliquityDeg: this.#obliquity,
      trunkLateralTiltDeg: this.#trunk,
    };
    this.#keepTold();
    this.#empty();
    return message;
  }

  /** The last seconds that were told, thinned; null when there are none. */
  toldLately(): AnglesMessage | null {
    if (this.#told.length === 0) return null;
    return {
      type: 'angles',
      utcMs: this.#told.map(([utcMs]) => utcMs),
      pelvicObliquityDeg: this.#told.map(([, obliquity]) => obliquity),
      trunkLateralTiltDeg: this.#told.map(([, , trunk]) => trunk),
    };
  }

  /** Nothing of before holds any more. */
  clear(): void {
    this.#empty();
    this.#told = [];
  }

  #keepTold(): void {
    for (const [i, utcMs] of this.#utcMs.entries()) {
      const last = this.#told[this.#told.length - 1];
      const point: Point = [utcMs, this.#obliquity[i] ?? null, this.#trunk[i] ?? null];
      const isBreak = point[1] === null && point[2] === null;
      // A break is kept: a line across it would claim what nobody measured.
      if (last === undefined || isBreak || utcMs - last[0] >= TOLD_AGAIN_STEP_MS) this.#told.push(point);
    }
    const newest = this.#told[this.#told.length - 1]?.[0] ?? 0;
    const from = this.#told.findIndex(([utcMs]) => newest - utcMs <= TOLD_AGAIN_MS);
    if (from > 0) this.#told.splice(0, from);
  }

  #empty(): void {
    this.#utcMs = [];
    this.#obliquity = [];
    this.#trunk = [];
  }

  #add(utcMs: number, obliquity: number | null, trunk: number | null): void {
    if (this.#utcMs.length >= POINTS_MAX) this.#dropOlderHalf();
    this.#utcMs.push(Math.round(utcMs * 10) / 10);
    this.#obliquity.push(obliquity);
    this.#trunk.push(trunk);
  }

  /** The line breaks where points are missing. */
  #dropOlderHalf(): void {
    const half = POINTS_MAX / 2;
    this.#utcMs.splice(0, half);
    this.#obliquity.splice(0, half + 1);
    this.#obliquity.unshift(null);
    this.#trunk.splice(0, half + 1);
    this.#trunk.unshift(null);
  }
}

/** Hundredths of a degree are finer than any screen shows. */
function rounded(deg: number): number | null {
  return Number.isFinite(deg) ? Math.round(deg * 100) / 100 : null;
}
