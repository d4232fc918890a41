/** Keeps what is not acknowledged, oldest first, in a fixed amount of memory. When it is full the oldest gives way. */
import { CHANNELS_ACCEL_GYRO, sampleValues } from '../src/layout.ts';
import { payloadOf, quantiseInto, type Reading, type SampleScales } from '../src/sample-payload.ts';

const VALUES = sampleValues(CHANNELS_ACCEL_GYRO);

/** Consecutive samples as a samples frame carries them. */
export interface Run {
  firstSequence: number;
  count: number;
  firstTickUs: number;
  intervalUs: number;
  channels: number;
  payload: Uint8Array;
}

/** Sequence numbers `from` to `to`, the latter not included. */
export interface Span {
  from: number;
  to: number;
}

export class RingBuffer {
  readonly capacity: number;
  /** Sequence of the oldest sample kept, and of the next one to come. */
  oldest = 0;
  next = 0;
  /** Which samples gave way before they were acknowledged. */
  readonly lost: Span[] = [];
  readonly #counts: Int16Array;
  readonly #ticksUs: Float64Array;
  readonly intervalUs: number;

  /** `intervalUs`: nominal time between samples in ticks. */
  constructor(capacity: number, intervalUs: number) {
    this.capacity = capacity;
    this.intervalUs = intervalUs;
    this.#counts = new Int16Array(capacity * VALUES);
    this.#ticksUs = new Float64Array(capacity);
  }

  get held(): number {
    return this.next - this.oldest;
  }

  push(reading: Reading, tickUs: number, scales: SampleScales): void {
    if (this.held === this.capacity) this.drop(1);
    const slot = this.next % this.capacity;
    quantiseInto(this.#counts, slot * VALUES, reading, scales);
    this.#ticksUs[slot] = tickUs;
    this.next += 1;
  }

  /** Samples that gave way, in number. */
  get dropped(): number {
    return this.lost.reduce((sum, { from, to }) => sum + to - from, 0);
  }

  /** Gives up the oldest `count` samples. */
  drop(count: number): void {
    const to = Math.min(this.next, this.oldest + count);
    const last = this.lost[this.lost.length - 1];
    if (last?.to === this.oldest) last.to = to;
    else if (to > this.oldest) this.lost.push({ from: this.oldest, to });
    this.oldest = to;
  }

  /** Everything before `sequence` is safe elsewhere. */
  release(sequence: number): void {
    this.oldest = Math.min(this.next, Math.max(this.oldest, sequence));
  }

  /** At most `countMax` samples from `sequence` on that follow each other evenly; null when there are none. */
  run(sequence: number, countMax: number): Run | null {
    const from = Math.max(sequence, this.oldest);
    let count = from < this.next ? 1 : 0;
    while (count < countMax && from + count < this.next && this.#isEven(from + count)) count += 1;
    if (count === 0) return null;
    const counts = new Int16Array(count * VALUES);
    for (let i = 0; i < count; i++) {
      const slot = ((from + i) % this.capacity) * VALUES;
      counts.set(this.#counts.subarray(slot, slot + VALUES), i * VALUES);
    }
    const firstTickUs = this.#tickAt(from);
    const lastTickUs = this.#tickAt(from + count - 1);
    return {
      firstSequence: from,
      count,
      firstTickUs,
      intervalUs: Math.round(count > 1 ? (lastTickUs - firstTickUs) / (count - 1) : this.intervalUs),
      channels: CHANNELS_ACCEL_GYRO,
      payload: payloadOf(counts),
    };
  }

  /** Whether this sample follows the one before it without a pause. */
  #isEven(sequence: number): boolean {
    const stepUs = this.#tickAt(sequence) - this.#tickAt(sequence - 1);
    return Math.abs(stepUs - this.intervalUs) < this.intervalUs / 2;
  }

  #tickAt(sequence: number): number {
    return this.#ticksUs[sequence % this.capacity] as number;
  }
}
