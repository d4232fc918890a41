/** A log that takes a group and never answers, as over a connection that died unnoticed. With a time of the test's own. */
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { ANSWER_WAIT_MS_MAX, AppendQueue } from '../../server/src/ingest/append-queue.ts';
import type { RawBatch } from '../../server/src/ingest/raw-log.ts';
import { MemoryLog } from '../integration/ingest-fixture.ts';
import { makeRawBatch } from '../support/raw-batch.ts';

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

class SilentLog extends MemoryLog {
  /** What becomes of the first group. */
  readonly storesIt: boolean;
  calls = 0;

  constructor(storesIt: boolean) {
    super();
    this.storesIt = storesIt;
  }

  override async append(batches: readonly RawBatch[]): Promise<void> {
    this.calls += 1;
    if (this.calls > 1) return super.append(batches);
    if (this.storesIt) this.batches.push(...batches);
    return new Promise(() => undefined);
  }
}

test.each([true, false])(
  'is asked again, and nothing is stored twice or lost (stored the first time: %s)',
  async (it) => {
    const log = new SilentLog(it);
    const durable: number[] = [];
    const queue = new AppendQueue(log, {
      onDurable: (_deviceId, _bootId, next) => durable.push(next),
      onDrained: () => undefined,
      onProblem: () => undefined,
    });
    queue.enqueue(makeRawBatch({ firstSequence: 0 }));
    await vi.advanceTimersByTimeAsync(1000);
    queue.enqueue(makeRawBatch({ firstSequence: 8 }));
    await vi.advanceTimersByTimeAsync(ANSWER_WAIT_MS_MAX - 2000);
    expect(durable).toEqual([]);
    await vi.advanceTimersByTimeAsync(3000);
    expect(durable.at(-1)).toBe(16);
    expect(queue.failing).toBe(false);
    expect(log.batches.map(({ firstSequence }) => firstSequence)).toEqual([0, 8]);
  },
);
