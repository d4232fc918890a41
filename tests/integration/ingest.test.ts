/** Virtual sensors over real sockets into ingest with a log in memory: what is acknowledged is stored once, whatever breaks. */
import { afterEach, describe, expect, it } from 'vitest';
import {
  hostNowMs,
  startVirtualSensor,
  type Reading,
  type VirtualSensor,
} from '@ambipede/firmware-protocol/virtual-sensor';
import { crc32c } from '@ambipede/firmware-protocol';
import { decodePayload, type TimedSample } from '../../server/src/ingest/raw-samples.ts';
import { MemoryLog, startIngestBench, type IngestBench } from './ingest-fixture.ts';

const RATE_HZ = 1000;
/** One count of the virtual sensor's accelerometer in m/s^2: readings made of whole counts come back exactly. */
const COUNT = 4_788_550e-9;

/** `count` readings that tell their own number, so that any missing or doubled one shows. */
function* numbered(count: number): Generator<Reading> {
  for (let k = 0; k < count; k++) {
    yield { ax: (k % 20_000) * COUNT, ay: Math.floor(k / 20_000) * COUNT, az: 9.81, gx: 0.1, gy: -0.2, gz: 0.3 };
  }
}

function numberOf({ ax, ay }: TimedSample): number {
  return Math.round(ax / COUNT) + 20_000 * Math.round(ay / COUNT);
}

const upTo = (count: number): number[] => Array.from({ length: count }, (_, i) => i);
const after = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

async function until(what: string, condition: () => boolean): Promise<void> {
  const giveUp = hostNowMs() + 15_000;
  while (!condition()) {
    if (hostNowMs() > giveUp) throw new Error(`never happened: ${what}`);
    await after(10);
  }
}

let bench: IngestBench;
let sensors: VirtualSensor[] = [];

function startSensor(url: string, deviceId: string, samples: number, more: object = {}): VirtualSensor {
  const sensor = startVirtualSensor({
    deviceId,
    url,
    rateHz: RATE_HZ,
    source: numbered(samples),
    seed: 5,
    skewPpm: 35,
    ...more,
  });
  sensors.push(sensor);
  return sensor;
}

/** Numbers of the stored samples, with the checks that hold for every stored stream. */
function storedNumbers(log: MemoryLog, deviceId: string): number[] {
  const batches = log.of(deviceId);
  for (const batch of batches) expect(crc32c(batch.payload)).toBe(batch.crc32c);
  const samples = batches.flatMap(decodePayload);
  const steps = samples.slice(1).map((sample, i) => sample.utcMs - (samples[i] as TimedSample).utcMs);
  expect(Math.min(...steps)).toBeGreaterThan(0);
  return samples.map(numberOf);
}

afterEach(async () => {
  await Promise.all(sensors.map((sensor) => sensor.stop()));
  sensors = [];
  await bench.stop();
});

describe('a quiet connection', () => {
  it('stores every sample once, with the value measured, and hands on the same times as are stored', async () => {
    bench = await startIngestBench();
    const state = await startSensor(bench.url, 'a', 600).finished;
    expect(state).toMatchObject({ sampled: 600, acknowledged: 600, dropped: 0, problem: null });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(600));
    expect(bench.live.get('a')).toEqual(bench.log.of('a').flatMap(decodePayload));
    expect(bench.problems).toEqual([]);
  });

  it('gives two sensors of one body the same times for the same movement', async () => {
    bench = await startIngestBench();
    const startMs = hostNowMs() + 300;
    const pair = ['pelvis', 'sternum'].map((deviceId, i) =>
      startSensor(bench.url, deviceId, 600, { startMs, skewPpm: i === 0 ? 60 : -60, bootedS: 7 + 400 * i }),
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
    const sensor = startSensor(bench.url, 'a', 100_000);
    await until('status', () => (bench.ingest.sensorState('a')?.status ?? null) !== null);
    await until('clock', () => (bench.ingest.sensorState('a')?.clockResidualMs ?? null) !== null);
    await until('samples', () => (bench.ingest.sensorState('a')?.receivedSamples ?? 0) > 100);
    const state = bench.ingest.sensorState('a');
    expect(state).toMatchObject({ connected: true, rateHz: RATE_HZ, lostSamples: 0 });
    expect(state?.status).toMatchObject({ batteryPercent: 92, temperatureC: 31.5, droppedSamples: 0 });
    expect(bench.ingest.nowUtcMs() - (state?.newestUtcMs ?? 0)).toBeLessThan(1000);
    await sensor.stop();
    await until('disconnect', () => bench.ingest.sensorState('a')?.connected === false);
  });
});

describe('connections that break', () => {
  it('lose nothing and double nothing, however often the socket is cut', async () => {
    bench = await startIngestBench();
    const sensor = startSensor(bench.url, 'a', 2400);
    let cuts = 0;
    const cutter = setInterval(() => {
      for (const socket of bench.sockets) if (socket.readyState === socket.OPEN) cuts += 1;
      for (const socket of bench.sockets) socket.terminate();
      bench.sockets.clear();
    }, 250);
    await until('all measured', () => sensor.state().sampled === 2400);
    clearInterval(cutter);
    const state = await sensor.finished;
    expect(cuts).toBeGreaterThan(3);
    expect(state).toMatchObject({ acknowledged: 2400, dropped: 0 });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(2400));
    expect((bench.live.get('a') ?? []).map(numberOf)).toEqual(upTo(2400));
  });

  it('lose nothing when the radio is away for a while', async () => {
    bench = await startIngestBench();
    const state = await startSensor(bench.url, 'a', 1200, { radioLoss: [{ startS: 0.3, endS: 0.8 }] }).finished;
    expect(state.connections).toBeGreaterThan(1);
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(1200));
  });

  it('report what a small buffer had to give up, and store the rest', async () => {
    bench = await startIngestBench();
    const sensor = startSensor(bench.url, 'a', 1600, { radioLoss: [{ startS: 0.3, endS: 1.1 }], bufferS: 0.4 });
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
    const older = startSensor(bench.url, 'a', 100_000);
    await until('first connection', () => bench.ingest.sensorState('a')?.connected === true);
    const newer = startSensor(bench.url, 'a', 400);
    expect(await older.finished).toMatchObject({ problem: 'another device connected as a' });
    expect(await newer.finished).toMatchObject({ acknowledged: 400 });
  });

  it('go on from what was on disk when the server was killed', async () => {
    bench = await startIngestBench();
    const port = Number(new URL(bench.url).port);
    const sensor = startSensor(bench.url, 'a', 1600);
    await until('some are durable', () => sensor.state().acknowledged > 200);
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

describe('a log that rejects', () => {
  it('stops acknowledgements, not the live view, and all is stored once it takes samples again', async () => {
    bench = await startIngestBench();
    const sensor = startSensor(bench.url, 'a', 1800);
    await until('some are durable', () => sensor.state().acknowledged > 100);
    bench.log.failing = true;
    await until('the queue notices', () => bench.ingest.storageState().failing);
    const acknowledged = sensor.state().acknowledged;
    const seen = bench.live.get('a')?.length ?? 0;
    await after(600);
    expect(sensor.state().acknowledged).toBe(acknowledged);
    expect(bench.live.get('a')?.length).toBeGreaterThan(seen + 0.5 * RATE_HZ);
    bench.log.failing = false;
    expect(await sensor.finished).toMatchObject({ acknowledged: 1800, dropped: 0, connections: 1 });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(1800));
    expect(bench.problems).toEqual([expect.stringContaining('the disk is full')]);
  });

  it('has the device send again what the queue had no room for', async () => {
    bench = await startIngestBench({ queueLimits: { streamSamples: 200, samples: 100_000 } });
    const sensor = startSensor(bench.url, 'a', 1600);
    await until('some are durable', () => sensor.state().acknowledged > 100);
    bench.log.failing = true;
    await after(900);
    bench.log.failing = false;
    expect(await sensor.finished).toMatchObject({ acknowledged: 1600, dropped: 0 });
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(1600));
    expect((bench.live.get('a') ?? []).map(numberOf)).toEqual(upTo(1600));
    expect(bench.problems.join('\n')).toContain('resend-needed');
    expect(bench.ingest.sensorState('a')).toMatchObject({ receivedSamples: 1600, lostSamples: 0 });
  });

  it('does not store twice what was stored although the answer was lost', async () => {
    bench = await startIngestBench();
    const sensor = startSensor(bench.url, 'a', 800);
    await until('some are durable', () => sensor.state().acknowledged > 100);
    bench.log.losesAnswer = true;
    expect(await sensor.finished).toMatchObject({ acknowledged: 800 });
    expect(bench.log.losesAnswer).toBe(false);
    expect(storedNumbers(bench.log, 'a')).toEqual(upTo(800));
  });

  it('lets a device in that connects while the log is away, and finds the durable end later', async () => {
    const log = new MemoryLog();
    bench = await startIngestBench({ log });
    const port = Number(new URL(bench.url).port);
    const sensor = startSensor(bench.url, 'a', 1600);
    await until('some are durable', () => sensor.state().acknowledged > 100);
    await bench.stop();
    log.failing = true;
    bench = await startIngestBench({ log, port });
    await until('live again', () => (bench.live.get('a')?.length ?? 0) > 50);
    log.failing = false;
    expect(await sensor.finished).toMatchObject({ acknowledged: 1600, dropped: 0 });
    expect(storedNumbers(log, 'a')).toEqual(upTo(1600));
  });

  it('for one device only does not hold up another', async () => {
    bench = await startIngestBench();
    bench.log.refusedDevice = 'bad';
    const bad = startSensor(bench.url, 'bad', 100_000);
    const good = startSensor(bench.url, 'good', 800);
    expect(await good.finished).toMatchObject({ acknowledged: 800 });
    expect(bad.state().acknowledged).toBe(0);
    expect(storedNumbers(bench.log, 'good')).toEqual(upTo(800));
    expect(bench.live.get('bad')?.length).toBeGreaterThan(400);
    bench.log.refusedDevice = null;
    await until('the other recovers', () => bad.state().acknowledged > 400);
  });
});
