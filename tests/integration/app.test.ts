import { connect as connectTcp } from 'node:net';
import { describe, expect, test } from 'vitest';
import type { ApiError, AthleteSummary, KnownSensor, SessionView, TrialSummary } from '../../shared/src/index.ts';
import { useTestApp } from '../support/suite-app.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import type { TestPostgres } from '../support/test-postgres.ts';

const NOBODY = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';

let api: TestApp;
let server: TestPostgres;
useTestApp((suite) => ({ api, server } = suite));

let count = 0;
const newAthlete = () => api.call<AthleteSummary>('POST', '/api/athletes', { name: `Athlete ${++count}` }, 201);
const place = (deviceId: string, athleteId: string | null, at = 'pelvis', status = 200) =>
  api.call<KnownSensor & ApiError>('PUT', `/api/sensors/${deviceId}`, { athleteId, place: at }, status);
const newSession = async () => {
  const athlete = await newAthlete();
  await place(`device-${count}`, athlete.id);
  return api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id }, 201);
};
const messageOf = async (method: string, url: string, body: unknown, status: number) =>
  (await api.call<ApiError>(method, url, body, status)).error;

describe('a request that is not as it should be', () => {
  test.each([
    ['POST', '/api/athletes', {}, 'body is not as it should be: must have name'],
    ['POST', '/api/athletes', { name: '' }, 'name'],
    ['POST', '/api/athletes', { name: ' \t' }, 'name must not be blank'],
    ['POST', '/api/athletes', { name: 7 }, 'name must be string'],
    ['POST', '/api/athletes', { name: 'x'.repeat(121) }, 'name'],
    ['POST', '/api/athletes', { name: 'x', admin: true }, 'must not have admin'],
    ['POST', '/api/athletes', [], 'must be object'],
    ['POST', '/api/athletes', undefined, 'must be object'],
    ['PUT', '/api/sensors/a%20b', { athleteId: null, place: 'pelvis' }, 'deviceId may hold letters'],
    ['PUT', `/api/sensors/${'x'.repeat(65)}`, { athleteId: null, place: 'pelvis' }, 'deviceId'],
    ['PUT', '/api/sensors/ab', { athleteId: null, place: 'ankle' }, 'place must be one of pelvis, sternum'],
    ['PUT', '/api/sensors/ab', { athleteId: 'me', place: 'pelvis' }, 'athleteId'],
    ['POST', '/api/sessions', { athleteId: `${NOBODY}'--` }, 'must be an id'],
    ['POST', '/api/sessions/SESSION/lead-in/handstand/start', undefined, 'step must be one of reference_stand'],
    ['POST', '/api/sessions/SESSION/trials', { task: 'swim' }, 'task must be one of stand, single-leg-stand'],
    ['GET', '/api/athletes/ATHLETE/history', undefined, 'must have metric'],
    ['GET', '/api/athletes/ATHLETE/history?metric=constructor', undefined, 'metric must be one of contactTimeS'],
    ['GET', '/api/trials/..%2f', undefined, 'must be an id'],
  ])('%s %s %j is answered with what to correct', async (method, url, body, expected) => {
    const { id, athleteId } = await newSession();
    const address = url.replace('SESSION', id).replace('ATHLETE', athleteId);
    const { code, message } = await messageOf(method, address, body, 400);
    expect(code).toBe('invalid-request');
    expect(message).toContain(expected);
    expect(message).toMatch(/Correct it and send it again\.$/);
  });

  test('is answered the same way when it is no JSON, or too long', async () => {
    const post = (body: string) =>
      fetch(`${api.url}/api/athletes`, { method: 'POST', body, headers: { 'content-type': 'application/json' } });
    const broken = await post('{"name":');
    expect(broken.status).toBe(400);
    expect(((await broken.json()) as ApiError).error.message).toMatch(/Send JSON/);
    const long = await post(JSON.stringify({ name: 'x'.repeat(70_000) }));
    expect(long.status).toBe(413);
    expect(((await long.json()) as ApiError).error.code).toBe('bad-request');
  });

  test.each([
    ['POST', '/api/sessions', { athleteId: NOBODY }],
    ['GET', `/api/sessions/${NOBODY}`, undefined],
    ['POST', `/api/sessions/${NOBODY}/end`, undefined],
    ['POST', `/api/sessions/${NOBODY}/trials`, { task: 'run' }],
    ['POST', `/api/trials/${NOBODY}/stop`, undefined],
    ['GET', `/api/trials/${NOBODY}`, undefined],
    ['GET', `/api/trials/${NOBODY}/result`, undefined],
    ['GET', `/api/athletes/${NOBODY}/trials`, undefined],
    ['GET', `/api/athletes/${NOBODY}/history?metric=stepTimeS`, undefined],
    ['PUT', '/api/sensors/ab', { athleteId: NOBODY, place: 'pelvis' }],
    ['GET', '/api/nothing', undefined],
  ])('%s %s %j of what does not exist is 404', async (method, url, body) => {
    expect((await messageOf(method, url, body, 404)).code).toBe('not-found');
  });
});

describe('a session', () => {
  test('is one at a time for an athlete, and can be begun again after its end', async () => {
    const session = await newSession();
    expect(session).toMatchObject({ endedUtcMs: null, leadInStep: null, leadIn: [], trials: [] });
    const { code } = await messageOf('POST', '/api/sessions', { athleteId: session.athleteId }, 409);
    expect(code).toBe('session-open');
    const ended = await api.call<SessionView>('POST', `/api/sessions/${session.id}/end`);
    expect(ended.endedUtcMs).toBeGreaterThanOrEqual(session.startedUtcMs);
    const again = await api.call<SessionView>('POST', `/api/sessions/${session.id}/end`);
    expect(again.endedUtcMs).toBe(ended.endedUtcMs);
    await api.call('POST', '/api/sessions', { athleteId: session.athleteId }, 201);
    expect((await messageOf('POST', `/api/sessions/${session.id}/trials`, { task: 'run' }, 409)).code).toBe(
      'session-ended',
    );
  });

  test('does one thing at a time: a lead-in step or a trial', async () => {
    const { id } = await newSession();
    const step = (name: string, what: string, status = 200) =>
      api.call<SessionView & ApiError>('POST', `/api/sessions/${id}/lead-in/${name}/${what}`, undefined, status);
    const trial = (status: number) =>
      api.call<TrialSummary & ApiError>('POST', `/api/sessions/${id}/trials`, { task: 'run' }, status);
    expect((await step('reference_stand', 'stop', 409)).error.code).toBe('step-not-under-way');
    expect((await step('reference_stand', 'start')).leadInStep).toBe('reference_stand');
    expect((await step('forward_bow', 'start', 409)).error.code).toBe('step-under-way');
    expect((await step('forward_bow', 'stop', 409)).error.code).toBe('step-not-under-way');
    expect((await trial(409)).error.code).toBe('step-under-way');
    const done = await step('reference_stand', 'stop');
    expect(done.leadInStep).toBeNull();
    expect(done.leadIn).toHaveLength(1);
    expect(done.leadIn[0]!.endUtcMs).toBeGreaterThanOrEqual(done.leadIn[0]!.startUtcMs);
    const running = await trial(201);
    expect(running.state).toBe('running');
    expect((await trial(409)).error.code).toBe('trial-running');
    expect((await step('forward_bow', 'start', 409)).error.code).toBe('trial-running');
    expect((await messageOf('GET', `/api/trials/${running.id}/result`, undefined, 409)).code).toBe('not-final');
    const stopped = await api.call<TrialSummary>('POST', `/api/trials/${running.id}/stop`);
    expect(stopped.state).toBe('re-analysing');
    const again = await api.call<TrialSummary>('POST', `/api/trials/${running.id}/stop`);
    expect(again.endedUtcMs).toBe(stopped.endedUtcMs);
  });

  test('takes a double tap for one: of two starts at once, one is refused', async () => {
    const { id } = await newSession();
    const tap = () =>
      fetch(`${api.url}/api/sessions/${id}/trials`, {
        method: 'POST',
        body: '{"task":"walk"}',
        headers: { 'content-type': 'application/json' },
      });
    const answers = await Promise.all([tap(), tap(), tap()]);
    expect(answers.map((answer) => answer.status).sort()).toEqual([201, 409, 409]);
    expect((await api.call<SessionView>('GET', `/api/sessions/${id}`)).trials).toHaveLength(1);
  });

  test('starts no trial without a sensor at the pelvis, and takes one that is placed later', async () => {
    const athlete = await newAthlete();
    const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id }, 201);
    expect((await messageOf('POST', `/api/sessions/${session.id}/trials`, { task: 'run' }, 409)).code).toBe(
      'no-pelvis-sensor',
    );
    await place(`late-${count}`, athlete.id);
    await api.call('POST', `/api/sessions/${session.id}/trials`, { task: 'run' }, 201);
  });
});

describe('a sensor', () => {
  test('has one place, and a place one sensor', async () => {
    const a = await newAthlete();
    const b = await newAthlete();
    await place('one', a.id);
    expect((await place('two', a.id, 'pelvis', 409)).error.code).toBe('place-taken');
    await place('two', a.id, 'sternum');
    expect(await place('one', b.id)).toEqual({
      deviceId: 'one',
      athleteId: b.id,
      place: 'pelvis',
      lastSeenUtcMs: null,
      enrolled: false,
    });
    await place('three', a.id);
    const roster = await api.call<AthleteSummary[]>('GET', '/api/athletes');
    const worn = roster.find((athlete) => athlete.id === a.id)!.sensors;
    expect(worn.map((sensor) => [sensor.place, sensor.deviceId, sensor.condition])).toEqual([
      ['pelvis', 'three', 'never-seen'],
      ['sternum', 'two', 'never-seen'],
    ]);
  });

  test('of an open session stays where it is until the session ends', async () => {
    const session = await newSession();
    const deviceId = `device-${count}`;
    const other = await newAthlete();
    expect((await place(deviceId, other.id, 'pelvis', 409)).error.code).toBe('sensor-in-use');
    expect((await place(deviceId, session.athleteId, 'sternum', 409)).error.code).toBe('sensor-in-use');
    expect((await place(deviceId, null, 'pelvis', 409)).error.code).toBe('sensor-in-use');
    await place(deviceId, session.athleteId);
    await api.call('POST', `/api/sessions/${session.id}/end`);
    await place(deviceId, other.id);
  });
});

describe('the server', () => {
  test('says whether samples can be stored', async () => {
    expect(await api.call('GET', '/healthz')).toMatchObject({ database: 'ok', failing: false, queuedSamples: 0 });
  });

  test('logs what was done, without names', async () => {
    const name = 'Unmistakable Person';
    await api.call('POST', '/api/athletes', { name }, 201);
    const lines = api.log.map((line) => JSON.parse(line) as Record<string, unknown>);
    expect(lines.at(-1)).toMatchObject({ method: 'POST', route: '/api/athletes', status: 201 });
    expect(api.log.join('')).not.toContain(name);
    expect(lines.some((line) => 'remoteAddress' in line || 'req' in line)).toBe(false);
  });

  test('answers 500 when the database fails, and keeps the name out of answer and log', async () => {
    const own = await server.newDatabase();
    const failing = await startTestApp(own);
    await own.sql`alter table athletes rename to elsewhere`;
    const { error } = await failing.call<ApiError>('POST', '/api/athletes', { name: 'Secret Person' }, 500);
    await failing.close();
    expect(error.message).toMatch(/Try again/);
    expect(failing.log.join('')).toContain('request failed');
    expect(failing.log.join('')).toContain('athletes');
    expect(failing.log.join('') + JSON.stringify(error)).not.toContain('Secret');
  });

  test('refuses an upgrade that leads nowhere, and outlives one that is nonsense', async () => {
    const ask = (request: string) =>
      new Promise<string>((resolve, reject) => {
        const { hostname, port } = new URL(api.url);
        const socket = connectTcp(Number(port), hostname, () => socket.write(request));
        let answer = '';
        socket.on('data', (data) => (answer += data.toString()));
        socket.on('close', () => resolve(answer));
        socket.on('error', reject);
      });
    const head = 'Host: x\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n';
    expect(await ask(`GET /nowhere HTTP/1.1\r\n${head}\r\n`)).toMatch(/^HTTP\/1.1 404/);
    expect(await ask(`GET //:99999999 HTTP/1.1\r\n${head}\r\n`)).toMatch(/^HTTP\/1.1 404/);
    expect(await ask(`GET /live HTTP/1.1\r\n${head}Sec-WebSocket-Key: short\r\n\r\n`)).toMatch(/^HTTP\/1.1 400/);
    expect((await fetch(`${api.url}/healthz`)).status).toBe(200);
  });
});
