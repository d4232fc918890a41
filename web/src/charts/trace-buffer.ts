/** The newest stretch of the two live angles in columns: what the tilt strips draw. null is a gap. */

/** How much is drawn. */
export const TRACE_WINDOW_MS = 10_000;
/** Two neighbours further apart than this are not joined by a line. */
export const TRACE_GAP_MS = 150;
/** A value older than this is not a current one. */
export const CURRENT_WITHIN_MS = 1000;

export type TraceName = 'obliquityDeg' | 'trunkTiltDeg';

export class TraceBuffer {
  utcMs: number[] = [];
  obliquityDeg: (number | null)[] = [];
  trunkTiltDeg: (number | null)[] = [];
  /** Counts the time bases: another one, and what was drawn before no longer holds. */
  base = 0;

  /**
   * Appends columns of equal length. Times that do not move forward are dropped: a line never runs back. A larger step
   * back is another time base, so what was drawn before goes. `silent` names the traces whose sensor is not delivering:
   * they stay empty whatever arrives.
   */
  push(
    utcMs: readonly number[],
    obliquityDeg: readonly (number | null)[],
    trunkTiltDeg: readonly (number | null)[],
    silent: Record<TraceName, boolean>,
  ): void {
    for (const [i, time] of utcMs.entries()) {
      if ((this.utcMs.at(-1) ?? time) - time > CURRENT_WITHIN_MS) this.clear();
      const last = this.utcMs.at(-1);
      if (last !== undefined && time <= last) continue;
      if (last !== undefined && time - last > TRACE_GAP_MS) this.#append(last + 1, null, null);
      this.#append(
        time,
        silent.obliquityDeg ? null : (obliquityDeg[i] ?? null),
        silent.trunkTiltDeg ? null : (trunkTiltDeg[i] ?? null),
      );
    }
    this.#trim();
  }

  /** The newest value of a trace, if it is young enough to be called current; else null. */
  current(name: TraceName, nowUtcMs: number): number | null {
    for (let i = this.utcMs.length - 1; i >= 0; i--) {
      // A time far ahead is as wrong as an old one: it would stay `current` for as long as it is ahead.
      if (Math.abs(nowUtcMs - (this.utcMs[i] ?? 0)) > CURRENT_WITHIN_MS) return null;
      const value = this[name][i];
      if (value !== null && value !== undefined) return value;
    }
    return null;
  }

  /** The largest tilt to either side since then, 0 where there is none. */
  largestDeg(name: TraceName, sinceUtcMs: number): number {
    let largest = 0;
    for (let i = this.utcMs.length - 1; i >= 0 && (this.utcMs[i] ?? 0) >= sinceUtcMs; i--)
      largest = Math.max(largest, Math.abs(this[name][i] ?? 0));
    return largest;
  }

  clear(): void {
    this.base += 1;
    for (const column of [this.utcMs, this.obliquityDeg, this.trunkTiltDeg]) column.length = 0;
  }

  #append(time: number, obliquity: number | null, trunkTilt: number | null): void {
    this.utcMs.push(time);
    this.obliquityDeg.push(obliquity);
    this.trunkTiltDeg.push(trunkTilt);
  }

  #trim(): void {
    const newest = this.utcMs.at(-1) ?? 0;
    // Cut in large pieces: moving the arrays on every message would cost more than the spare second is worth.
    if (newest - (this.utcMs[0] ?? newest) < 2 * TRACE_WINDOW_MS) return;
    const from = this.utcMs.findIndex((time) => newest - time <= TRACE_WINDOW_MS + CURRENT_WITHIN_MS);
    for (const column of [this.utcMs, this.obliquityDeg, this.trunkTiltDeg]) column.splice(0, from);
  }
}
