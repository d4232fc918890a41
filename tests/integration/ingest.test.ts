/** Virtual sensors over real sockets into ingest with a log in memory: what is acknowledged is stored once, whatever breaks. */
import { afterEach, describe, expect, it } from 'vitest';
import { hostNowMs } from '@ambipede/firmware-protocol/virtual-sensor';
import { decodePayload } from '../../server/src/ingest/raw-samples.ts';
import { waitUntil } from '../support/wait-until.ts';
import { MemoryLog, startIngestBench, type IngestBench } from './ingest-fixture.ts';
import { RATE_HZ, numberOf, startNumberedSensor, stopNumberedSensors, storedNumbers, upTo } from './ingest-numbered.ts';

let bench: IngestBench;

afterEach(async () => {
  await stopNumberedSensors();
  await bench.stop();
});

describe('a quiet connection', () => {
  it('stores every sample once, with the value measured, and hands on the same times as are stored', async () => {
    bench = await startIngestBench();
    const state = await startNumberedSensor(bench.url, 'a', 600).finished;
    expect(state).toMatchObject({ sampled: 600, acknowledged: 600, dropped: 0, problem: null });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(600));
    expect(bench.live.get('a')).toEqual(bench.log.of('a').flatMap(decodePayload));
    expect(bench.problems).toEqual([]);
  });

  it('gives two sensors of one body the same times for the same movement', async () => {
    bench = await startIngestBench();
    const startMs = hostNowMs() + 300;
    const pair = ['pelvis', 'sternum'].map((deviceId, i) =>
      startNumberedSensor(bench.url, deviceId, 600, { startMs, skewPpm: i === 0 ? 60 : -60, bootedS: 7 + 400 * i }),
    );
    await Promise.all(pair.map(({ finished }) => finished));
    const [pelvis, sternum] = ['pelvis', 'sternum'].map((id) => bench.log.of(id).flatMap(decodePayload));
    const apartMs = (pelvis ?? []).map((sample, i) => Math.abs(sample.utcMs - (sternum?.[i]?.utcMs ?? NaN)));
    const lateMs = (pelvis ?? []).map((sample, i) => Math.abs(sample.utcMs - (startMs + (i / RATE_HZ) * 1000)));
    // Half of a round trip of 10 ms, which is a slow one for loopback.
    expect(Math.max(...apartMs)).toBeLessThan(5);
    expect(Math.max(...lateMs)).toBeLessThan(5);
  });

  it('tells the state of the sensor', async () => {
    bench = await startIngestBench();
    expect(bench.ingest.sensorState('a')).toBeNull();
    const sensor = startNumberedSensor(bench.url, 'a', 100_000);
    await waitUntil('status', () => (bench.ingest.sensorState('a')?.status ?? null) !== null);
    await waitUntil('clock', () => (bench.ingest.sensorState('a')?.clockResidualMs ?? null) !== null);
    await waitUntil('samples', () => (bench.ingest.sensorState('a')?.receivedSamples ?? 0) > 100);
    const state = bench.ingest.sensorState('a');
    expect(state).toMatchObject({ connected: true, rateHz: RATE_HZ, lostSamples: 0 });
    expect(state?.status).toMatchObject({ batteryPercent: 92, temperatureC: 31.5, droppedSamples: 0 });
    expect(bench.ingest.nowUtcMs() - (state?.newestUtcMs ?? 0)).toBeLessThan(1000);
    await sensor.stop();
    await waitUntil('disconnect', () => bench.ingest.sensorState('a')?.connected === false);
  });
});

describe('connections that break', () => {
  it('lose nothing and double nothing, however often the socket is cut', async () => {
    bench = await startIngestBench();
    const sensor = startNumberedSensor(bench.url, 'a', 2400);
    let cuts = 0;
    const cutter = setInterval(() => {
      for (const socket of bench.sockets) if (socket.readyState === socket.OPEN) cuts += 1;
      for (const socket of bench.sockets) socket.terminate();
      bench.sockets.clear();
    }, 250);
    await waitUntil('all measured', () => sensor.state().sampled === 2400);
    clearInterval(cutter);
    const state = await sensor.finished;
    expect(cuts).toBeGreaterThan(3);
    expect(state).toMatchObject({ acknowledged: 2400, dropped: 0 });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(2400));
    expect((bench.live.get('a') ?? []).map(numberOf)).toEqual(upTo(2400));
  });

  it('lose nothing when the radio is away for a while', async () => {
    bench = await startIngestBench();
    const state = await startNumberedSensor(bench.url, 'a', 1200, { radioLoss: [{ startS: 0.3, endS: 0.8 }] }).finished;
    expect(state.connections).toBeGreaterThan(1);
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(1200));
  });

  it('report what a small buffer had to give up, and store the rest', async () => {
    bench = await startIngestBench();
    const sensor = startNumberedSensor(bench.url, 'a', 1600, { radioLoss: [{ startS: 0.3, endS: 1.1 }], bufferS: 0.4 });
    const state = await sensor.finished;
    const numbers = storedNumbers(bench.log, 'a');
    const lost = bench.ingest.sensorState('a')?.lostSamples ?? 0;
    expect(numbers.length + lost).toBe(1600);
    expect(lost).toBeGreaterThan(200);
    // Some that the device gave up had arrived: their acknowledgement was lost with the radio.
    expect(lost).toBeLessThanOrEqual(state.dropped);
    expect(numbers).toEqual([...new Set(numbers)].sort((a, b) => a - b));
    const gaps = bench.log.of('a').filter((batch, i, all) => {
      const before = all[i - 1];
      return before && before.firstSequence + before.count !== batch.firstSequence;
    });
    expect(gaps).toHaveLength(1);
  });

  it('let the newer of two connections of one device stay', async () => {
    bench = await startIngestBench();
    const older = startNumberedSensor(bench.url, 'a', 100_000);
    await waitUntil('first connection', () => bench.ingest.sensorState('a')?.connected === true);
    const newer = startNumberedSensor(bench.url, 'a', 400);
    await waitUntil('the older one is told', () => older.state().problem?.startsWith('replaced') ?? false);
    expect(await newer.finished).toMatchObject({ acknowledged: 400 });
  });

  it('go on from what was on disk when the server was killed', async () => {
    bench = await startIngestBench();
    const port = Number(new URL(bench.url).port);
    const sensor = startNumberedSensor(bench.url, 'a', 1600);
    await waitUntil('some are durable', () => sensor.state().acknowledged > 200);
    // A killed process leaves what the log had at that moment; what the dying server still does counts for nothing.
    const { acknowledged } = sensor.state();
    const log = new MemoryLog(bench.log.batches);
    expect(storedNumbers(log, 'a').length).toBeGreaterThanOrEqual(acknowledged);
    for (const socket of bench.sockets) socket.terminate();
    await bench.stop();
    bench = await startIngestBench({ log, port });
    const state = await sensor.finished;
    expect(state).toMatchObject({ acknowledged: 1600, dropped: 0 });
    expect(storedNumbers(log, 'a')).toEqual(upTo(1600));
  });
});
