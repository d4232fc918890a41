/** The log refuses, loses its answer or is away: live goes on, nothing is acknowledged that is not stored, nothing is lost. */
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, describe, expect, it } from 'vitest';
import { waitUntil } from '../support/wait-until.ts';
import { MemoryLog, startIngestBench, type IngestBench } from './ingest-fixture.ts';
import { RATE_HZ, numberOf, startNumberedSensor, stopNumberedSensors, storedNumbers, upTo } from './ingest-numbered.ts';

let bench: IngestBench;

afterEach(async () => {
  await stopNumberedSensors();
  await bench.stop();
});

describe('a log that rejects', () => {
  it('stops acknowledgements, not the live view, and all is stored once it takes samples again', async () => {
    bench = await startIngestBench();
    const sensor = startNumberedSensor(bench.url, 'a', 1800);
    await waitUntil('some are durable', () => sensor.state().acknowledged > 100);
    bench.log.failing = true;
    await waitUntil('the queue notices', () => bench.ingest.storageState().failing);
    const acknowledged = sensor.state().acknowledged;
    const seen = bench.live.get('a')?.length ?? 0;
    await sleep(600);
    expect(sensor.state().acknowledged).toBe(acknowledged);
    expect(bench.live.get('a')?.length).toBeGreaterThan(seen + 0.5 * RATE_HZ);
    bench.log.failing = false;
    expect(await sensor.finished).toMatchObject({ acknowledged: 1800, dropped: 0, connections: 1 });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(1800));
    expect(bench.problems).toEqual([expect.stringContaining('the disk is full')]);
  });

  it('has the device send again what the queue had no room for', async () => {
    bench = await startIngestBench({ queueLimits: { streamSamples: 200, samples: 100_000 } });
    const sensor = startNumberedSensor(bench.url, 'a', 1600);
    await waitUntil('some are durable', () => sensor.state().acknowledged > 100);
    bench.log.failing = true;
    await sleep(900);
    bench.log.failing = false;
    expect(await sensor.finished).toMatchObject({ acknowledged: 1600, dropped: 0 });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(1600));
    expect((bench.live.get('a') ?? []).map(numberOf)).toEqual(upTo(1600));
    expect(bench.problems.join('\n')).toContain('resend-needed');
    expect(bench.ingest.sensorState('a')).toMatchObject({ receivedSamples: 1600, lostSamples: 0 });
  });

  it('does not store twice what was stored although the answer was lost', async () => {
    bench = await startIngestBench();
    const sensor = startNumberedSensor(bench.url, 'a', 800);
    await waitUntil('some are durable', () => sensor.state().acknowledged > 100);
    bench.log.losesAnswer = true;
    expect(await sensor.finished).toMatchObject({ acknowledged: 800 });
    expect(bench.log.losesAnswer).toBe(false);
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(800));
  });

  it('lets a device in that connects while the log is away, and finds the durable end later', async () => {
    const log = new MemoryLog();
    bench = await startIngestBench({ log });
    const port = Number(new URL(bench.url).port);
    const sensor = startNumberedSensor(bench.url, 'a', 1600);
    await waitUntil('some are durable', () => sensor.state().acknowledged > 100);
    await bench.stop();
    log.failing = true;
    bench = await startIngestBench({ log, port });
    await waitUntil('live again', () => (bench.live.get('a')?.length ?? 0) > 50);
    log.failing = false;
    expect(await sensor.finished).toMatchObject({ acknowledged: 1600, dropped: 0 });
    expect(storedNumbers(log, 'a')).toEqual(upTo(1600));
  });

  it('for one device only does not hold up another', async () => {
    bench = await startIngestBench();
    bench.log.refusedDevice = 'bad';
    const bad = startNumberedSensor(bench.url, 'bad', 100_000);
    const good = startNumberedSensor(bench.url, 'good', 800);
    expect(await good.finished).toMatchObject({ acknowledged: 800 });
    expect(bad.state().acknowledged).toBe(0);
    expect(storedNumbers(bench.log, 'good')).toEqual(upTo(800));
    expect(bench.live.get('bad')?.length).toBeGreaterThan(400);
    bench.log.refusedDevice = null;
    await waitUntil('the other recovers', () => bad.state().acknowledged > 400);
  });
});
