/** PostgreSQL dies under a running server: nothing is lost, and everything goes on by itself. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { loadRawBatches } from '../../server/src/store/raw-batches.ts';
import { decodePayload } from '../../server/src/ingest/raw-samples.ts';
import type { Database } from '../../server/src/store/database.ts';
import type { AthleteSummary } from '../../shared/src/index.ts';
import { carries, countingSource, numberOf } from '../support/counting-source.ts';
import { watchLive } from '../support/live-viewer.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

const RATE_HZ = 200;
const DEVICE = 'steady';

let server: TestPostgres;
let database: Database;
let api: TestApp;
let sensor: VirtualSensor;
beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  api = await startTestApp(database);
});
afterAll(async () => {
  await sensor?.stop();
  await api?.close();
  await server?.stop();
});

describe('a database that dies', () => {
  test('costs no sample, and the live feed goes on without it', async () => {
    const athlete = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Test athlete' });
    await api.call('PUT', `/api/sensors/${DEVICE}`, { athleteId: athlete.id, place: 'pelvis' });
    const viewer = watchLive(api.socketUrl, athlete.id);
    sensor = startVirtualSensor({
      deviceId: DEVICE,
      token: await api.enrol(DEVICE),
      url: `${api.socketUrl}/ingest`,
      rateHz: RATE_HZ,
      source: countingSource(),
    });
    await waitUntil('a second is acknowledged', () => sensor.state().acknowledged > RATE_HZ);

    const pid = server.own!.pid();
    process.kill(pid, 'SIGKILL');
    const received = () => {
      const last = viewer.messages.filter((message) => message.type === 'sensors').at(-1);
      return last?.type === 'sensors' ? (last.sensors[0]?.receivedSamples ?? 0) : 0;
    };
    const before = received();
    await waitUntil('live goes on', () => received() > before + RATE_HZ / 2);
    await waitUntil('PostgreSQL runs again', () => server.own!.pid() !== pid);
    const then = sensor.state().acknowledged;
    await waitUntil('acknowledgements go on', () => sensor.state().acknowledged > then + RATE_HZ);
    expect((await fetch(`${api.url}/healthz`)).status).toBe(200);

    const end = await sensor.stop();
    viewer.socket.terminate();
    expect(end).toMatchObject({ dropped: 0, acknowledged: end.sampled });
    const stored = (await loadRawBatches(database.db, DEVICE, 0, Infinity)).flatMap(decodePayload);
    expect(stored).toHaveLength(end.sampled);
    expect(stored.every(({ gz }, n) => carries(n, numberOf(gz)))).toBe(true);
  });
});
