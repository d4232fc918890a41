import { afterEach, describe, expect, test } from 'vitest';
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { ALGORITHM_VERSION } from '../../shared/src/index.ts';
import type { AthleteSummary, KnownSensor, SessionView, TrialSummary } from '../../shared/src/index.ts';
import { watchLive } from '../support/live-viewer.ts';
import type { LiveViewer } from '../support/live-viewer.ts';
import { countingSource } from '../support/counting-source.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';

let api: TestApp;
useTestApp((suite) => ({ api } = suite));

const viewers: LiveViewer[] = [];
const sensors: VirtualSensor[] = [];
afterEach(async () => {
  for (const viewer of viewers.splice(0)) viewer.socket.terminate();
  await Promise.all(sensors.splice(0).map((sensor) => sensor.stop()));
});

let count = 0;
const newAthlete = () => api.call<AthleteSummary>('POST', '/api/athletes', { name: `Athlete ${++count}` });
const watch = (athleteId: string): LiveViewer => {
  const viewer = watchLive(api.socketUrl, athleteId);
  viewers.push(viewer);
  return viewer;
};
const startSensor = async (deviceId: string, rateHz = 200): Promise<VirtualSensor> => {
  const token = await api.enrol(deviceId);
  const url = `${api.socketUrl}/ingest`;
  const sensor = startVirtualSensor({ deviceId, token, url, rateHz, source: countingSource() });
  sensors.push(sensor);
  return sensor;
};
const place = (deviceId: string, athleteId: string, at = 'pelvis') =>
  api.call('PUT', `/api/sensors/${deviceId}`, { athleteId, place: at });

describe('a dashboard that connects', () => {
  test('is told at once who, what and where things stand, and then hears a heartbeat', async () => {
    const athlete = await newAthlete();
    const viewer = watch(athlete.id);
    await viewer.next('mounting');
    expect(viewer.messages.slice(0, 4)).toEqual([
      { type: 'hello', serverUtcMs: expect.any(Number), version: ALGORITHM_VERSION, athleteId: athlete.id },
      { type: 'sensors', serverUtcMs: expect.any(Number), sensors: [] },
      { type: 'session', session: null },
      { type: 'mounting', mounting: {} },
    ]);
    await waitUntil(
      'three heartbeats came',
      () => viewer.messages.filter((each) => each.type === 'heartbeat').length >= 3,
    );
  });

  test.each(['6c84fb90-12c4-41e1-840d-7b25c5ee775a', 'nonsense', ''])(
    'to an athlete that does not exist ("%s") is told so and closed',
    async (athleteId) => {
      const viewer = watch(athleteId);
      const closed = await waitUntil('the socket closes', () => viewer.closed);
      expect(closed).toEqual({ code: 4404, reason: expect.stringContaining('no such athlete') });
    },
  );

  test('and talks too much is closed, and nobody else notices', async () => {
    const athlete = await newAthlete();
    const calm = watch(athlete.id);
    const noisy = watch(athlete.id);
    await noisy.next('hello');
    noisy.socket.send('x'.repeat(2000));
    expect((await waitUntil('the socket closes', () => noisy.closed)).code).toBe(1009);
    const before = calm.messages.length;
    await waitUntil('more comes', () => calm.messages.length > before);
    expect(calm.closed).toBeNull();
  });
});

describe('the session on the live feed', () => {
  test('follows what the coach does', async () => {
    const athlete = await newAthlete();
    await place(`follow-${count}`, athlete.id);
    const viewer = watch(athlete.id);
    const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id });
    const base = { sessionId: session.id, startedUtcMs: session.startedUtcMs };
    await viewer.next('session', (message) => message.session?.sessionId === session.id);
    await api.call('POST', `/api/sessions/${session.id}/lead-in/reference_stand/start`);
    await viewer.next('session', (message) => message.session?.leadInStep === 'reference_stand');
    await api.call('POST', `/api/sessions/${session.id}/lead-in/reference_stand/stop`);
    const trial = await api.call<TrialSummary>('POST', `/api/sessions/${session.id}/trials`, { task: 'walk' });
    const running = await viewer.next(
      'session',
      (message) => message.session?.trial !== null && message.session !== null,
    );
    expect(running.session).toEqual({
      ...base,
      leadInStep: null,
      trial: { trialId: trial.id, task: 'walk', startedUtcMs: trial.startedUtcMs },
    });
    const late = watch(athlete.id);
    expect((await late.next('session')).session).toEqual(running.session);
    await api.call('POST', `/api/trials/${trial.id}/stop`);
    await api.call('POST', `/api/sessions/${session.id}/end`);
    await waitUntil('both are told of the end', () =>
      [viewer, late].every((each) => each.messages.filter((m) => m.type === 'session').at(-1)?.session === null),
    );
  });

  test('is heard only by those who watch this athlete', async () => {
    const [a, b] = [await newAthlete(), await newAthlete()];
    const viewer = watch(b.id);
    await viewer.next('hello');
    await api.call('POST', '/api/sessions', { athleteId: a.id });
    await viewer.next('heartbeat');
    expect(viewer.messages.filter((message) => message.type === 'session')).toEqual([
      { type: 'session', session: null },
    ]);
  });
});

describe('a sensor on the live feed', () => {
  test('is never seen, then streams, then is gone; and each is said', async () => {
    const athlete = await newAthlete();
    const deviceId = `states-${count}`;
    await place(deviceId, athlete.id);
    const viewer = watch(athlete.id);
    const say = async (condition: string) =>
      (await viewer.next('sensors', (message) => message.sensors[0]?.condition === condition)).sensors[0]!;
    expect(await say('never-seen')).toEqual({
      deviceId,
      place: 'pelvis',
      condition: 'never-seen',
      behindS: null,
      lostSamples: 0,
      receivedSamples: 0,
      batteryPercent: null,
      clockResidualMs: null,
    });
    const sensor = await startSensor(deviceId);
    const streaming = await say('streaming');
    expect(streaming.behindS).toBeLessThan(0.5);
    await viewer.next(
      'sensors',
      ({ sensors: [first] }) => (first?.receivedSamples ?? 0) > 0 && first?.batteryPercent === 92,
    );
    await sensor.stop();
    const gone = await say('disconnected');
    expect(gone.receivedSamples).toBeGreaterThan(0);
    const roster = await api.call<AthleteSummary[]>('GET', '/api/athletes');
    expect(roster.find((each) => each.id === athlete.id)?.sensors[0]?.condition).toBe('disconnected');
  });

  test('that is enrolled is known by its hello before anybody has placed it', async () => {
    const deviceId = `unplaced-${++count}`;
    await startSensor(deviceId);
    const known = await waitUntil('it is listed', async () => {
      const all = await api.call<KnownSensor[]>('GET', '/api/sensors');
      return all.find((each) => each.deviceId === deviceId && each.lastSeenUtcMs !== null) ?? null;
    });
    expect(known).toMatchObject({ athleteId: null, place: null });
  });

  test('counts its samples from the start of the session', async () => {
    const athlete = await newAthlete();
    const deviceId = `counts-${count}`;
    await place(deviceId, athlete.id);
    await startSensor(deviceId);
    const viewer = watch(athlete.id);
    await viewer.next('sensors', (message) => (message.sensors[0]?.receivedSamples ?? 0) > 300);
    await api.call('POST', '/api/sessions', { athleteId: athlete.id });
    const after = viewer.messages.length;
    const next = await waitUntil('the next status comes', () => {
      const found = viewer.messages.slice(after).find((message) => message.type === 'sensors');
      return found?.type === 'sensors' ? found : null;
    });
    expect(next.sensors[0]!.receivedSamples).toBeLessThan(300);
  });
});
