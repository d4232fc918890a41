/** The append queue at its limits. */
import { afterEach, describe, expect, it } from 'vitest';
import {
  CHANNELS_ACCEL_GYRO,
  CHANNELS_WITH_MAGN,
  MAGN_SCALE_NONE,
  crc32c,
  sampleBytes,
} from '@ambipede/firmware-protocol';
import { AppendQueue } from '../../server/src/ingest/append-queue.ts';
import type { RawBatch } from '../../server/src/ingest/raw-log.ts';
import { MemoryLog } from './ingest-fixture.ts';

function batchOf(deviceId: string, firstSequence: number, count: number, channels = CHANNELS_ACCEL_GYRO): RawBatch {
  const payload = Uint8Array.from({ length: count * sampleBytes(channels) }, (_, i) => i % 251);
  const firstUtcMs = 1_790_000_000_000 + firstSequence * 5;
  return {
    deviceId,
    bootId: 1,
    firstSequence,
    count,
    firstTickUs: firstSequence * 5000,
    intervalUs: 5000,
    firstUtcMs,
    endUtcMs: firstUtcMs + count * 5,
    payload,
    accelScale: 0.005,
    gyroScale: 0.001,
    magnScale: channels === CHANNELS_ACCEL_GYRO ? MAGN_SCALE_NONE : 1.5e-7,
    channels,
    crc32c: crc32c(payload),
  };
}

function setUp(limits: { streamSamples: number; samples: number }): {
  log: MemoryLog;
  queue: AppendQueue;
  drained: string[];
  durable: Map<string, number>;
} {
  const log = new MemoryLog();
  const drained: string[] = [];
  const durable = new Map<string, number>();
  queue = new AppendQueue(
    log,
    {
      onDurable: (deviceId, _bootId, next) => durable.set(deviceId, next),
      onDrained: (deviceId) => drained.push(deviceId),
      onProblem: () => {},
    },
    limits,
  );
  return { log, queue, drained, durable };
}

async function until(condition: () => boolean): Promise<void> {
  for (let i = 0; i < 500 && !condition(); i++) await new Promise((resolve) => setTimeout(resolve, 10));
  expect(condition()).toBe(true);
}

let queue: AppendQueue;
afterEach(() => queue.close());

describe('the append queue', () => {
  it('takes a stream up to its limit, then nothing more of it before it has drained, so that no hole is stored', async () => {
    const { log, queue, drained, durable } = setUp({ streamSamples: 100, samples: 1000 });
    expect(queue.enqueue(batchOf('a', 0, 60))).toBe(true);
    expect(queue.enqueue(batchOf('a', 60, 40))).toBe(true);
    expect(queue.enqueue(batchOf('b', 0, 40))).toBe(true);
    await until(() => queue.queuedSamples === 0);

    log.failing = true;
    expect(queue.enqueue(batchOf('a', 100, 80))).toBe(true);
    expect(queue.enqueue(batchOf('a', 180, 21))).toBe(false);
    // This one would fit, but what came before it is missing.
    expect(queue.enqueue(batchOf('a', 201, 5))).toBe(false);
    expect(queue.enqueue(batchOf('b', 40, 40))).toBe(true);
    expect(drained).toEqual([]);
    log.failing = false;
    await until(() => drained.length === 1);
    expect(drained).toEqual(['a']);
    expect(Object.fromEntries(durable)).toEqual({ a: 180, b: 80 });
    expect(queue.enqueue(batchOf('a', 180, 21))).toBe(true);
  });

  it('tells a stream that was refused for lack of room in all when there is room again', async () => {
    const { log, queue, drained } = setUp({ streamSamples: 100, samples: 100 });
    log.failing = true;
    expect(queue.enqueue(batchOf('a', 0, 100))).toBe(true);
    expect(queue.enqueue(batchOf('b', 0, 1))).toBe(false);
    expect(drained).toEqual([]);
    log.failing = false;
    await until(() => drained.length === 1);
    expect(drained).toEqual(['b']);
  });

  it('appends what gathers within a moment as one group', async () => {
    const { log, queue } = setUp({ streamSamples: 1000, samples: 1000 });
    const groups: number[] = [];
    const append = log.append.bind(log);
    log.append = (batches) => {
      groups.push(batches.length);
      return append(batches);
    };
    for (let i = 0; i < 10; i++) queue.enqueue(batchOf('a', i * 10, 10));
    await until(() => queue.queuedSamples === 0);
    expect(groups).toEqual([10]);
  });

  it.each([CHANNELS_ACCEL_GYRO, CHANNELS_WITH_MAGN])(
    'cuts at a whole sample what the log turns out to have: channels %i',
    async (channels) => {
      const { log, queue, durable } = setUp({ streamSamples: 1000, samples: 1000 });
      const whole = batchOf('a', 0, 30, channels);
      const stored = whole.payload.slice(0, 10 * sampleBytes(channels));
      log.batches.push({ ...batchOf('a', 0, 10, channels), payload: stored, crc32c: crc32c(stored) });
      queue.askFirst('a', 1);
      queue.enqueue(whole);
      await until(() => durable.get('a') === 30);
      const rest = log.batches[1];
      expect([rest?.firstSequence, rest?.count, rest?.channels]).toEqual([10, 20, channels]);
      expect(rest?.payload).toEqual(whole.payload.slice(10 * sampleBytes(channels)));
      expect(rest?.crc32c).toBe(crc32c(whole.payload.slice(10 * sampleBytes(channels))));
    },
  );

  it('stores what is queued when it closes, and gives up on a log that does not take it', async () => {
    const first = setUp({ streamSamples: 1000, samples: 1000 });
    first.queue.enqueue(batchOf('a', 0, 10));
    await first.queue.close();
    expect(first.log.batches).toHaveLength(1);
    expect(first.queue.enqueue(batchOf('a', 10, 10))).toBe(false);

    const second = setUp({ streamSamples: 1000, samples: 1000 });
    second.log.failing = true;
    second.queue.enqueue(batchOf('a', 0, 10));
    await second.queue.close();
    expect(second.durable.size).toBe(0);
  });
});
