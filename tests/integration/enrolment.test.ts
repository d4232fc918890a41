/** Only a device with the token that it was given may bring samples, and the token is nowhere but with the device. */
import { createHash, randomBytes } from 'node:crypto';
import { afterEach, describe, expect, test } from 'vitest';
import { TOKEN_BYTES_MAX, closeCodeOf, errorNameOf } from '@ambipede/firmware-protocol';
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { ApiError, KnownSensor, RefusedSensor, SensorEnrolment } from '../../shared/src/index.ts';
import { ENROLLED_SENSORS_MAX } from '../../server/src/session/enrolment-service.ts';
import type { Database } from '../../server/src/store/database.ts';
import { countingSource } from '../support/counting-source.ts';
import { knock, type Knock } from '../support/knock.ts';
import { useTestApp } from '../support/suite-app.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

/** The close code that firmware authors are promised. */
const NOT_ENROLLED = 4041;

let api: TestApp;
let database: Database;
let server: TestPostgres;
useTestApp((suite) => ({ api, database, server } = suite));

const devices: Knock[] = [];
const sensors: VirtualSensor[] = [];
afterEach(async () => {
  for (const device of devices.splice(0)) device.leave();
  await Promise.all(sensors.splice(0).map((sensor) => sensor.stop()));
});

let count = 0;
const newId = (): string => `enrol-${++count}`;
const knocks = (deviceId: string, token?: string, bootId?: number): Knock => {
  const device = knock(api.socketUrl, deviceId, token, bootId);
  devices.push(device);
  return device;
};
const revoke = (deviceId: string, status = 200) =>
  api.call<KnownSensor & ApiError>('DELETE', `/api/sensors/${deviceId}/enrolment`, undefined, status);
const refused = async (deviceId: string): Promise<RefusedSensor | undefined> =>
  (await api.call<RefusedSensor[]>('GET', '/api/refused-sensors')).find((each) => each.deviceId === deviceId);
const listed = async (deviceId: string): Promise<KnownSensor | undefined> =>
  (await api.call<KnownSensor[]>('GET', '/api/sensors')).find((each) => each.deviceId === deviceId);
const otherToken = (): string => randomBytes(32).toString('hex');

describe('a device', () => {
  test('that nobody has enrolled is told so and closed, known to nobody but the list of refused ones', async () => {
    const deviceId = newId();
    const device = knocks(deviceId);
    expect(await device.answered()).toBe(NOT_ENROLLED);
    expect(closeCodeOf('not-enrolled')).toBe(NOT_ENROLLED);
    expect(device.messages.map((message) => message.type === 'error' && errorNameOf(message.code))).toEqual([
      'not-enrolled',
    ]);
    expect(await knocks(deviceId, otherToken()).answered()).toBe(NOT_ENROLLED);
    expect(await refused(deviceId)).toEqual({
      deviceId,
      reason: 'not-enrolled',
      attempts: 2,
      lastUtcMs: expect.any(Number),
    });
    expect(await listed(deviceId)).toBeUndefined();
  });

  test('that was placed but never enrolled, as those stored by earlier versions, is refused too', async () => {
    const deviceId = newId();
    await api.call('PUT', `/api/sensors/${deviceId}`, { athleteId: null, place: 'pelvis' });
    expect(await listed(deviceId)).toMatchObject({ enrolled: false });
    expect(await knocks(deviceId).answered()).toBe(NOT_ENROLLED);
    expect(await refused(deviceId)).toMatchObject({ reason: 'not-enrolled' });
  });

  test('that is enrolled needs its own token: not none, not a part, not another’s, not the stored hash', async () => {
    const deviceId = newId();
    const token = await api.enrol(deviceId);
    const another = await api.enrol(newId());
    const hash = createHash('sha256').update(token).digest('hex');
    const closed = async (said?: string) => knocks(deviceId, said).answered();
    expect(await closed()).toBe(NOT_ENROLLED);
    expect(await refused(deviceId)).toMatchObject({ reason: 'no-token', attempts: 1 });
    for (const said of [token.slice(0, -1), token.toUpperCase(), another, hash]) {
      expect(await closed(said), said).toBe(NOT_ENROLLED);
    }
    expect(await refused(deviceId)).toMatchObject({ reason: 'wrong-token', attempts: 5 });
    expect(await closed(token)).toBe('welcome');
    expect(await refused(deviceId)).toBeUndefined();
  });

  test('hears the same whether its id or its token is wrong', async () => {
    const deviceId = newId();
    await api.enrol(deviceId);
    const [known, unknown] = [knocks(deviceId, otherToken()), knocks(newId(), otherToken())];
    await Promise.all([known.answered(), unknown.answered()]);
    expect(known.messages).toEqual(unknown.messages);
  });

  test('with its token streams, and a stranger with its name does not disturb it', async () => {
    const deviceId = newId();
    const token = await api.enrol(deviceId);
    const url = `${api.socketUrl}/ingest`;
    const sensor = startVirtualSensor({ deviceId, token, url, rateHz: 200, source: countingSource() });
    sensors.push(sensor);
    await waitUntil('samples are acknowledged', () => sensor.state().acknowledged > 100);
    expect(await knocks(deviceId, otherToken(), 77).answered()).toBe(NOT_ENROLLED);
    const before = sensor.state().acknowledged;
    await waitUntil('more are acknowledged', () => sensor.state().acknowledged > before + 100);
    expect(sensor.state()).toMatchObject({ connected: true, connections: 1, dropped: 0 });
  });
});

describe('a token', () => {
  test('that is replaced stops at once, on the open connection and for new ones', async () => {
    const deviceId = newId();
    const old = await api.enrol(deviceId);
    const device = knocks(deviceId, old);
    expect(await device.answered()).toBe('welcome');
    const token = await api.enrol(deviceId);
    expect(token).not.toBe(old);
    await waitUntil('the open connection is closed', () => device.closed !== null);
    expect(device.closed).toBe(NOT_ENROLLED);
    expect(await knocks(deviceId, old).answered()).toBe(NOT_ENROLLED);
    expect(await knocks(deviceId, token).answered()).toBe('welcome');
  });

  test('that is taken back stops at once, and the device stays known', async () => {
    const deviceId = newId();
    const token = await api.enrol(deviceId);
    expect(await listed(deviceId)).toMatchObject({ enrolled: true });
    const device = knocks(deviceId, token);
    expect(await device.answered()).toBe('welcome');
    expect(await revoke(deviceId)).toMatchObject({ deviceId, enrolled: false });
    await waitUntil('the open connection is closed', () => device.closed !== null);
    expect(device.closed).toBe(NOT_ENROLLED);
    expect(await knocks(deviceId, token).answered()).toBe(NOT_ENROLLED);
    expect(await revoke(deviceId)).toMatchObject({ enrolled: false });
    expect((await revoke(newId(), 404)).error.code).toBe('not-found');
  });

  test('fits a hello as it is shown, and no cache may keep it', async () => {
    const answer = await fetch(`${api.url}/api/sensors/${newId()}/enrolment`, { method: 'POST' });
    const { token } = (await answer.json()) as SensorEnrolment;
    expect(token).toMatch(/^[0-9a-f]{64}$/);
    expect(Buffer.byteLength(token)).toBeLessThanOrEqual(TOKEN_BYTES_MAX);
    expect(answer.headers.get('cache-control')).toBe('no-store');
  });

  test('of two that are made at once is the later one alone', async () => {
    const deviceId = newId();
    const tokens = await Promise.all([api.enrol(deviceId), api.enrol(deviceId), api.enrol(deviceId)]);
    expect(new Set(tokens).size).toBe(3);
    const answers: (string | number)[] = [];
    for (const token of tokens) answers.push(await knocks(deviceId, token).answered());
    expect(answers.filter((answer) => answer === 'welcome')).toHaveLength(1);
  });

  test('is valid after a restart of the server', async () => {
    const deviceId = newId();
    const token = await api.enrol(deviceId);
    await api.close();
    api = await startTestApp(database);
    expect(await knocks(deviceId, otherToken()).answered()).toBe(NOT_ENROLLED);
    expect(await knocks(deviceId, token).answered()).toBe('welcome');
  });

  test('is stored as its SHA-256 alone, and is in no other answer and no line of the log', async () => {
    const deviceId = newId();
    const token = await api.enrol(deviceId);
    const secret = otherToken();
    await knocks(deviceId, secret).answered();
    await knocks(deviceId, token).answered();
    const [row] = await database.sql`select * from sensors where device_id = ${deviceId}`;
    const stored = row!['token_hash'] as Buffer;
    expect(stored.toString('hex')).toBe(createHash('sha256').update(token, 'ascii').digest('hex'));
    expect(JSON.stringify(row)).not.toContain(token);
    const told = [
      ...(await Promise.all(
        ['/api/sensors', '/api/refused-sensors', '/healthz'].map(async (path) => (await fetch(api.url + path)).text()),
      )),
      JSON.stringify(await revoke(deviceId)),
      JSON.stringify(await api.call('PUT', `/api/sensors/${deviceId}`, { athleteId: null, place: 'pelvis' })),
    ].join('\n');
    expect(told).toContain(deviceId);
    const log = api.log.join('\n');
    expect(log).toContain('/api/sensors/:deviceId/enrolment');
    expect(log).toContain('not-enrolled');
    for (const hidden of [token, secret, stored.toString('hex'), stored.toString('base64'), 'tokenHash']) {
      expect(told).not.toContain(hidden);
      expect(log).not.toContain(hidden);
    }
  });
});

describe('the number of enrolled sensors', () => {
  test('has a limit, at which those that are enrolled can still be given a new token', async () => {
    const full = await server.newDatabase();
    await full.sql`
      insert into sensors (device_id, token_hash)
      select 'many-' || n, sha256(n::text::bytea) from generate_series(1, ${ENROLLED_SENSORS_MAX - 1}::int) n`;
    const app = await startTestApp(full);
    try {
      await app.enrol('last');
      const over = await app.call<ApiError>('POST', '/api/sensors/over/enrolment', undefined, 409);
      expect(over.error.code).toBe('too-many-sensors');
      expect(over.error.message).toMatch(/Revoke one/);
      await app.enrol('many-1');
      await app.call('DELETE', '/api/sensors/many-2/enrolment', undefined, 200);
      await app.enrol('over');
    } finally {
      await app.close();
    }
  });
});
