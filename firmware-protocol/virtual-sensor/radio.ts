/** What the radio of a device in software does, by its movement time. */
import type { DeviceClock } from './clock.ts';

/**
 * A span of movement time with a bad radio.
 * - `off` (default): the connection breaks, and the device notices.
 * - `dead`: nothing gets through either way and nobody is told: the connection is half open.
 * - `slow`: every frame takes up to `delayMs` of host time longer, in both directions; order is kept.
 */
export interface RadioSpan {
  startS: number;
  endS: number;
  kind?: 'off' | 'dead' | 'slow';
  delayMs?: number;
}

const DELAY_MS_DEFAULT = 100;

export class Radio {
  readonly #spans: readonly RadioSpan[];
  readonly #clock: DeviceClock;
  readonly #random: () => number;

  constructor(spans: readonly RadioSpan[], clock: DeviceClock, random: () => number) {
    this.#spans = spans;
    this.#clock = clock;
    this.#random = random;
  }

  /** Whether an open connection breaks now. */
  isOff(nowMs: number): boolean {
    return this.#spanAt(nowMs, 'off') !== undefined;
  }

  /** Whether there is anybody to connect to. */
  isReachable(nowMs: number): boolean {
    return !this.isOff(nowMs) && this.#spanAt(nowMs, 'dead') === undefined;
  }

  /** Host time at which a frame that leaves now arrives. */
  arrivalMs(nowMs: number): number {
    const dead = this.#spanAt(nowMs, 'dead');
    if (dead) return this.#clock.hostMsAt(dead.endS);
    const slow = this.#spanAt(nowMs, 'slow');
    return slow ? nowMs + this.#random() * (slow.delayMs ?? DELAY_MS_DEFAULT) : nowMs;
  }

  #spanAt(nowMs: number, wanted: NonNullable<RadioSpan['kind']>): RadioSpan | undefined {
    const atS = this.#clock.movementSAt(nowMs);
    return this.#spans.find(({ startS, endS, kind = 'off' }) => kind === wanted && atS >= startS && atS < endS);
  }
}
