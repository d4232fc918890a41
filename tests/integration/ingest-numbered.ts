/** Virtual sensors whose samples tell their own number, on an ingest bench, and what became of those samples. */
import { expect } from 'vitest';
import { crc32c } from '@ambipede/firmware-protocol';
import { startVirtualSensor, type Reading, type VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { decodePayload, type TimedSample } from '../../server/src/ingest/raw-samples.ts';
import type { MemoryLog } from './ingest-fixture.ts';

export const RATE_HZ = 1000;
/** One count of the virtual sensor's accelerometer in m/s^2: readings made of whole counts come back exactly. */
const COUNT = 4_788_550e-9;

/** `count` readings that tell their own number, so that any missing or doubled one shows. */
function* numbered(count: number): Generator<Reading> {
  for (let k = 0; k < count; k++) {
    yield { ax: (k % 20_000) * COUNT, ay: Math.floor(k / 20_000) * COUNT, az: 9.81, gx: 0.1, gy: -0.2, gz: 0.3 };
  }
}

export function numberOf({ ax, ay }: TimedSample): number {
  return Math.round(ax / COUNT) + 20_000 * Math.round(ay / COUNT);
}

/** 0, 1, 2 and so on: `count` numbers. */
export const upTo = (count: number): number[] => Array.from({ length: count }, (_, i) => i);

let sensors: VirtualSensor[] = [];

export function startNumberedSensor(url: string, deviceId: string, samples: number, more: object = {}): VirtualSensor {
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

/** For `afterEach`: those that a test started. */
export async function stopNumberedSensors(): Promise<void> {
  await Promise.all(sensors.map((sensor) => sensor.stop()));
  sensors = [];
}

/** Numbers of the stored samples, with the checks that hold for every stored stream. */
export function storedNumbers(log: MemoryLog, deviceId: string): number[] {
  const batches = log.of(deviceId);
  for (const batch of batches) expect(crc32c(batch.payload)).toBe(batch.crc32c);
  const samples = batches.flatMap(decodePayload);
  const steps = samples.slice(1).map((sample, i) => sample.utcMs - (samples[i] as TimedSample).utcMs);
  expect(Math.min(...steps)).toBeGreaterThan(0);
  return samples.map(numberOf);
}
