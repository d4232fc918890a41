/** A server in this process, two sensors of one athlete that stream marked samples to it, and a dashboard that watches. */
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor, VirtualSensorOptions } from '@ambipede/firmware-protocol/virtual-sensor';
import type { Database } from '../../server/src/store/database.ts';
import { loadRawBatches } from '../../server/src/store/raw-batches.ts';
import { PLACES, type AthleteSummary, type Place } from '../../shared/src/index.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { watchLive } from '../support/live-viewer.ts';
import type { LiveViewer } from '../support/live-viewer.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp, TestAppOptions } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';
import { resultOf, type FaultResult } from './fault-result.ts';
import { checkStored, markedSource } from './marked-samples.ts';

export const RATE_HZ = 200;

export const deviceOf = (place: Place): string => `${place}-1`;

export interface Rig {
  api: TestApp;
  athleteId: string;
  sensors: Record<Place, VirtualSensor>;
  /** Samples that the dashboard was told of, of the sensor that has fewer. */
  seenLive(): number;
  acknowledged(): number;
  /** Resolves when no sensor holds more than half a second of samples (of the test's own time). */
  caughtUp(): Promise<void>;
  /** Stops the sensors and compares what they measured with what is stored. */
  finish(fault: string, tried: number): Promise<FaultResult>;
  /** Leaves the database open. */
  close(): Promise<void>;
}

export interface RigOptions {
  /** Seconds of movement, and of the server's clock, in a second of the test. */
  speed?: number;
  sensor?: (place: Place) => Partial<VirtualSensorOptions>;
}

/** Resolves when both sensors have acknowledged samples. */
export async function startRig(database: Database, { speed = 1, sensor = () => ({}) }: RigOptions = {}): Promise<Rig> {
  const app: TestAppOptions = speed === 1 ? {} : { nowUtcMs: makeFastClock(speed).nowUtcMs };
  const api = await startTestApp(database, app);
  try {
    return await startOn(api, database, speed, sensor);
  } catch (error) {
    await api.close();
    throw error;
  }
}

async function startOn(
  api: TestApp,
  database: Database,
  speed: number,
  sensor: NonNullable<RigOptions['sensor']>,
): Promise<Rig> {
  const { id: athleteId } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Test athlete' });
  const start = async (place: Place): Promise<VirtualSensor> => {
    const deviceId = deviceOf(place);
    await api.call('PUT', `/api/sensors/${deviceId}`, { athleteId, place });
    const token = await api.enrol(deviceId);
    const url = `${api.socketUrl}/ingest`;
    return startVirtualSensor({
      deviceId,
      token,
      url,
      rateHz: RATE_HZ,
      speed,
      source: markedSource(),
      ...sensor(place),
    });
  };
  const sensors = { pelvis: await start('pelvis'), sternum: await start('sternum') };
  const both = Object.values(sensors);
  const viewer = watchLive(api.socketUrl, athleteId);
  await waitUntil('both stream', () => both.every((each) => each.state().acknowledged > 0));
  return {
    api,
    athleteId,
    sensors,
    seenLive: () => seenBy(viewer),
    acknowledged: () => both.reduce((sum, each) => sum + each.state().acknowledged, 0),
    caughtUp: async () => {
      await waitUntil('the sensors have caught up', () => both.every((each) => heldBy(each) < (speed * RATE_HZ) / 2));
    },
    finish: async (fault, tried) => {
      const checks = PLACES.map(async (place) =>
        checkStored(await sensors[place].stop(), await loadRawBatches(database.db, deviceOf(place), 0, Infinity)),
      );
      return resultOf(fault, tried, await Promise.all(checks));
    },
    close: async () => {
      await Promise.all(both.map((each) => each.stop()));
      viewer.socket.terminate();
      await api.close();
    },
  };
}

/** Samples that a device still has to keep. */
export function heldBy(sensor: VirtualSensor): number {
  const { sampled, acknowledged, dropped } = sensor.state();
  return sampled - acknowledged - dropped;
}

function seenBy(viewer: LiveViewer): number {
  const last = viewer.messages.findLast((message) => message.type === 'sensors');
  if (last?.type !== 'sensors' || last.sensors.length < PLACES.length) return 0;
  return Math.min(...last.sensors.map(({ receivedSamples }) => receivedSamples));
}
