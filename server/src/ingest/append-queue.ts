/**
 * Group commit: batches of all streams gather for a moment, go to the log together, and are reported durable when the log
 * says so. A log that rejects is tried again; meanwhile the queue fills to its limit and then refuses, per stream and for
 * good until that stream has drained, so that what is stored never has a hole that the device could still fill.
 */
import { crc32c, sampleBytes } from '@ambipede/firmware-protocol';
import {
  GROUP_BATCHES_MAX,
  GROUP_WAIT_MS,
  QUEUE_SAMPLES_MAX,
  QUEUE_STREAM_SAMPLES_MAX,
  RETRY_MS_MAX,
  RETRY_MS_MIN,
} from './limits.ts';
import type { RawBatch, RawLog, StreamEnd } from './raw-log.ts';

/** Longer than the database lets a statement take: after it the answer is lost, and with it the connection. */
export const ANSWER_WAIT_MS_MAX = 65_000;

export interface AppendQueueEvents {
  /** Everything before `nextSequence` of this stream is durable. */
  onDurable(deviceId: string, bootId: number, nextSequence: number): void;
  /** A stream that was refused has drained: its device should send again from the durable end. */
  onDrained(deviceId: string, bootId: number): void;
  onProblem(text: string): void;
}

export interface QueueLimits {
  streamSamples: number;
  samples: number;
}

interface StreamQueue {
  deviceId: string;
  bootId: number;
  queuedSamples: number;
  refusing: boolean;
  /** The log may hold more than we know: ask before appending. */
  mustAsk: boolean;
}

export class AppendQueue {
  readonly #log: RawLog;
  readonly #events: AppendQueueEvents;
  readonly #limits: QueueLimits;
  readonly #streams = new Map<string, StreamQueue>();
  #batches: RawBatch[] = [];
  #queuedSamples = 0;
  #timer: NodeJS.Timeout | null = null;
  #running: Promise<void> | null = null;
  #retryMs = 0;
  /** Groups still to be made of a single stream. */
  #oneByOne = 0;
  #closed = false;

  constructor(log: RawLog, events: AppendQueueEvents, limits?: QueueLimits) {
    this.#log = log;
    this.#events = events;
    this.#limits = limits ?? { streamSamples: QUEUE_STREAM_SAMPLES_MAX, samples: QUEUE_SAMPLES_MAX };
  }

  get queuedSamples(): number {
    return this.#queuedSamples;
  }

  /** Whether the last append failed and is being tried again. */
  get failing(): boolean {
    return this.#retryMs > 0;
  }

  queuedSamplesOf(deviceId: string, bootId: number): number {
    return this.#streams.get(keyOf({ deviceId, bootId }))?.queuedSamples ?? 0;
  }

  /** The log could not say where this stream ends: it is asked again before its next batch is appended. */
  askFirst(deviceId: string, bootId: number): void {
    this.#streamOf({ deviceId, bootId }).mustAsk = true;
  }

  /** False: not taken, and nothing more of this stream until it has drained. The device keeps what is not acknowledged. */
  enqueue(batch: RawBatch): boolean {
    const stream = this.#streamOf(batch);
    const full =
      stream.queuedSamples + batch.count > this.#limits.streamSamples ||
      this.#queuedSamples + batch.count > this.#limits.samples;
    if (full && !stream.refusing) {
      stream.refusing = true;
      this.#events.onProblem(`Storage is behind: ${batch.deviceId} has to keep its samples and send them again.`);
    }
    if (stream.refusing || this.#closed) return false;
    stream.queuedSamples += batch.count;
    this.#queuedSamples += batch.count;
    this.#batches.push(batch);
    this.#schedule(GROUP_WAIT_MS);
    return true;
  }

  /** Tries once more to store what is queued; what cannot be stored stays with the devices, unacknowledged. */
  async close(): Promise<void> {
    this.#closed = true;
    if (this.#timer) clearTimeout(this.#timer);
    await this.#running;
    this.#retryMs = 0;
    while (this.#batches.length > 0 && !this.failing) await this.#appendGroup();
  }

  #schedule(waitMs: number): void {
    if (this.#timer || this.#running || this.#batches.length === 0) return;
    this.#timer = setTimeout(() => {
      this.#timer = null;
      this.#running = this.#appendGroup().finally(() => {
        this.#running = null;
        if (!this.#closed) this.#schedule(this.failing ? this.#retryMs : GROUP_WAIT_MS);
      });
    }, waitMs);
  }

  async #appendGroup(): Promise<void> {
    let group: RawBatch[] = [];
    try {
      await this.#askEnds();
      group = this.#nextGroup();
      if (group.length > 0) await answered(this.#log.append(group));
      this.#retryMs = 0;
      this.#remove(group);
    } catch (error) {
      if (!this.failing) this.#events.onProblem(`The raw log does not take samples: ${String(error)}`);
      this.#retryMs = Math.min(RETRY_MS_MAX, Math.max(RETRY_MS_MIN, this.#retryMs * 2));
      this.#afterFailure(group);
    }
    if (this.#oneByOne > 0) this.#oneByOne -= 1;
  }

  #nextGroup(): RawBatch[] {
    const head = this.#batches[0];
    if (!head || this.#oneByOne === 0) return this.#batches.slice(0, GROUP_BATCHES_MAX);
    return this.#batches.filter((batch) => keyOf(batch) === keyOf(head)).slice(0, GROUP_BATCHES_MAX);
  }

  /** One stream that the log cannot take must not hold up the others: a round with each stream alone, that one last. */
  #afterFailure(group: RawBatch[]): void {
    const failed = new Set(group.map(keyOf));
    for (const batch of group) this.#streamOf(batch).mustAsk = true;
    if (this.#oneByOne === 0) this.#oneByOne = this.#streams.size + 1;
    if (failed.size !== 1) return;
    const isFailed = (batch: RawBatch): boolean => failed.has(keyOf(batch));
    this.#batches = [...this.#batches.filter((b) => !isFailed(b)), ...this.#batches.filter(isFailed)];
  }

  /** After a failure, or a stream whose end is not known: what is durable already is not appended again. */
  async #askEnds(): Promise<void> {
    for (const stream of this.#streams.values()) {
      if (!stream.mustAsk || stream.queuedSamples === 0) continue;
      const end = await answered(this.#log.streamEnd(stream.deviceId, stream.bootId));
      stream.mustAsk = false;
      if (end) this.#trim(stream, end);
    }
  }

  #trim(stream: StreamQueue, end: StreamEnd): void {
    const kept: RawBatch[] = [];
    const dropped: RawBatch[] = [];
    for (const batch of this.#batches) {
      if (keyOf(batch) !== keyOf(stream)) {
        kept.push(batch);
        continue;
      }
      const rest = afterEnd(batch, end);
      if (rest) kept.push(rest);
      const trimmed = batch.count - (rest?.count ?? 0);
      stream.queuedSamples -= trimmed;
      this.#queuedSamples -= trimmed;
      if (!rest) dropped.push(batch);
    }
    this.#batches = kept;
    if (dropped.length > 0) this.#events.onDurable(stream.deviceId, stream.bootId, end.nextSequence);
    this.#forgetDrained();
  }

  #remove(group: RawBatch[]): void {
    const done = new Set(group);
    this.#batches = this.#batches.filter((batch) => !done.has(batch));
    const nextSequences = new Map<StreamQueue, number>();
    for (const batch of group) {
      const stream = this.#streamOf(batch);
      stream.queuedSamples -= batch.count;
      this.#queuedSamples -= batch.count;
      nextSequences.set(stream, batch.firstSequence + batch.count);
    }
    for (const [stream, next] of nextSequences) this.#events.onDurable(stream.deviceId, stream.bootId, next);
    this.#forgetDrained();
  }

  #forgetDrained(): void {
    for (const [key, stream] of this.#streams) {
      if (stream.queuedSamples > 0) continue;
      // With the whole queue still near its limit a resend would be refused again.
      if (stream.refusing && this.#queuedSamples > this.#limits.samples / 2) continue;
      if (!stream.mustAsk) this.#streams.delete(key);
      if (stream.refusing) this.#events.onDrained(stream.deviceId, stream.bootId);
      stream.refusing = false;
    }
  }

  #streamOf({ deviceId, bootId }: Pick<RawBatch, 'deviceId' | 'bootId'>): StreamQueue {
    const key = keyOf({ deviceId, bootId });
    let stream = this.#streams.get(key);
    if (!stream) {
      stream = { deviceId, bootId, queuedSamples: 0, refusing: false, mustAsk: false };
      this.#streams.set(key, stream);
    }
    return stream;
  }
}

function keyOf({ deviceId, bootId }: Pick<RawBatch, 'deviceId' | 'bootId'>): string {
  return `${deviceId} ${bootId}`;
}

async function answered<T>(answer: Promise<T>): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const never = new Promise<never>((_resolve, reject) => {
    timer = setTimeout(() => reject(new Error(`no answer within ${ANSWER_WAIT_MS_MAX / 1000} s`)), ANSWER_WAIT_MS_MAX);
  });
  try {
    return await Promise.race([answer, never]);
  } finally {
    clearTimeout(timer);
  }
}

/** The part of a batch that lies after the durable end; null when there is none. */
function afterEnd(batch: RawBatch, end: StreamEnd): RawBatch | null {
  const skip = Math.max(0, end.nextSequence - batch.firstSequence);
  if (skip >= batch.count) return null;
  const stepMs = (batch.endUtcMs - batch.firstUtcMs) / batch.count;
  const payload = batch.payload.subarray(skip * sampleBytes(batch.channels));
  const firstUtcMs = Math.max(batch.firstUtcMs + skip * stepMs, end.endUtcMs);
  return {
    ...batch,
    firstSequence: batch.firstSequence + skip,
    count: batch.count - skip,
    firstTickUs: batch.firstTickUs + skip * batch.intervalUs,
    firstUtcMs,
    endUtcMs: Math.max(batch.endUtcMs, firstUtcMs),
    payload,
    crc32c: skip === 0 ? batch.crc32c : crc32c(payload),
  };
}
