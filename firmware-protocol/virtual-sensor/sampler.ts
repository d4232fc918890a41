/** Takes the readings of a source at their time. */
import type { Reading } from '../src/sample-payload.ts';
import type { DeviceClock } from './clock.ts';
import type { SourceReading } from './options.ts';

export class Sampler {
  /** Nothing more will be measured. */
  ended = false;
  readonly #readings: Iterator<SourceReading | null>;
  readonly #clock: DeviceClock;
  readonly #rateHz: number;
  /** Slots of the source used so far; those without a reading count. */
  #slots = 0;
  #following: IteratorResult<SourceReading | null> | null = null;

  constructor(source: Iterable<SourceReading | null>, rateHz: number, clock: DeviceClock) {
    this.#readings = source[Symbol.iterator]();
    this.#rateHz = rateHz;
    this.#clock = clock;
  }

  /** Hands on what was measured up to now. */
  measure(nowMs: number, take: (reading: Reading, measuredMs: number) => void): void {
    while (!this.ended) {
      this.#following ??= this.#readings.next();
      const { done, value } = this.#following;
      if (done) {
        this.ended = true;
        return;
      }
      const measuredMs = this.#clock.hostMsAt(value?.tS ?? this.#slots / this.#rateHz);
      if (measuredMs > nowMs) return;
      if (value && isComplete(value)) take(value, measuredMs);
      this.#slots += 1;
      this.#following = null;
    }
  }
}

function isComplete({ ax, ay, az, gx, gy, gz }: Reading): boolean {
  return Number.isFinite(ax + ay + az + gx + gy + gz);
}
