/** Gathers angle frames between two live messages. */
import type { LiveMessage } from '@ambipede/shared';
import type { AngleFrame } from '../motion/types.ts';

/** While a sensor catches up, older points are left out beyond twenty seconds at 200 Hz. */
export const POINTS_MAX = 4000;

type AnglesMessage = Extract<LiveMessage, { type: 'angles' }>;

export class AngleBuffer {
  #utcMs: number[] = [];
  #obliquity: (number | null)[] = [];
  #trunk: (number | null)[] = [];

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
    this.clear();
    return message;
  }

  clear(): void {
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
