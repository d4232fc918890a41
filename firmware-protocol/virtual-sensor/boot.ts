/** One start of a device: its boot id, its counter and its buffer. */
import { ACCEL_SCALE_MIN, GYRO_SCALE_MIN } from '../src/layout.ts';
import { NANO, type Reading } from '../src/sample-payload.ts';
import type { DeviceClock } from './clock.ts';
import type { BootReport } from './options.ts';
import { RingBuffer } from './ring-buffer.ts';

const SCALES = { accelScale: ACCEL_SCALE_MIN * NANO, gyroScale: GYRO_SCALE_MIN * NANO };
const BOOT_IDS = 2 ** 32;

export class Boot {
  readonly id: number;
  readonly ring: RingBuffer;
  readonly #clock: DeviceClock;
  readonly #startTickUs: number;

  /** `startTickUs`: what the clock shows when this boot's counter is 0. */
  constructor(id: number, ring: RingBuffer, clock: DeviceClock, startTickUs: number) {
    this.id = id;
    this.ring = ring;
    this.#clock = clock;
    this.#startTickUs = startTickUs;
  }

  tickUsAt(hostMs: number): number {
    return Math.max(0, this.#clock.tickUsAt(hostMs) - this.#startTickUs);
  }

  take(reading: Reading, measuredMs: number): void {
    this.ring.push(reading, this.tickUsAt(measuredMs), SCALES);
  }

  /** The boot after this one: another id, sequence and counter from 0, nothing in memory. What this one held is lost. */
  next(nowMs: number): Boot {
    this.ring.drop(this.ring.held);
    const ring = new RingBuffer(this.ring.capacity, this.ring.intervalUs);
    return new Boot((this.id + 1) % BOOT_IDS, ring, this.#clock, this.#clock.tickUsAt(nowMs));
  }

  get acknowledged(): number {
    return this.ring.oldest - this.ring.dropped;
  }

  report(): BootReport {
    return { bootId: this.id, sampled: this.ring.next, lost: this.ring.lost.map((span) => ({ ...span })) };
  }
}
