/** Sockets opened by whoever should not: dashboards without a right, pages that play sensors, devices with a token that is not theirs. */
import { randomBytes } from 'node:crypto';
import { afterEach, describe, expect, test, vi } from 'vitest';
import { WebSocket } from 'ws';
import { closeCodeOf } from '@ambipede/firmware-protocol';
import { LIVE_CLOSE } from '../../shared/src/index.ts';
import type { Account, Consent, SensorEnrolment } from '../../shared/src/index.ts';
import { LIVE_SOCKET_OPTIONS, RECHECK_EVERY_MS } from '../../server/src/live/live-socket.ts';
import type { Database } from '../../server/src/store/database.ts';
import { knock, type Knock } from '../support/knock.ts';
import { Person, addByKeeper, newAthleteOf, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';

const NOTHING = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
/** Of the WebSocket protocol (RFC 6455, 7.4.1). */
const CLOSE_TOO_BIG = 1009;

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

interface Watcher {
  socket: WebSocket;
  messages: string[];
  /** Status of the refused upgrade, or code and reason of the close; null while neither. */
  ended: number | string | null;
}

const open: { terminate(): void }[] = [];
const knocks: Knock[] = [];
afterEach(() => {
  vi.useRealTimers();
  open.splice(0).forEach((each) => each.terminate());
  knocks.splice(0).forEach((each) => each.leave());
});

function watch(path: string, headers: Record<string, string> = {}): Watcher {
  const socket = new WebSocket(api.socketUrl + path, { headers: { origin: api.url, ...headers } });
  const watcher: Watcher = { socket, messages: [], ended: null };
  open.push(socket);
  socket.on('message', (data) => watcher.messages.push(String(data)));
  socket.on('unexpected-response', (_request, response) => (watcher.ended = response.statusCode ?? 0));
  socket.on('close', (code, reason) => (watcher.ended ??= `${code} ${String(reason)}`));
  socket.on('error', () => undefined);
  return watcher;
}
const live = (athleteId: string, cookie: string, headers: Record<string, string> = {}) =>
  watch(`/live?athlete=${athleteId}`, { ...(cookie !== '' && { cookie }), ...headers });
const end = (watcher: Watcher) => waitUntil('the socket has ended', () => watcher.ended);
const codeOf = async (watcher: Watcher) => Number(String(await end(watcher)).split(' ')[0]);

async function watching(): Promise<{ coach: Person & { account: Account }; athleteId: string; watcher: Watcher }> {
  const coach = await newPerson({ database, url: api.url }, ['coach']);
  const athleteId = await newAthleteOf(coach, 'Livia');
  const watcher = live(athleteId, coach.cookie);
  await waitUntil('the feed is open', () => watcher.messages.length > 0);
  return { coach, athleteId, watcher };
}

describe('a dashboard', () => {
  test('without a sign-in, with a forged one, or before the first password is changed, is sent nothing', async () => {
    const { athleteId } = await watching();
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const { firstPassword } = await addByKeeper(keeper, 'first-time', ['coach']);
    const early = new Person(api.url);
    await early.signIn('first-time', firstPassword);
    const forged = `ambipede=${randomBytes(32).toString('base64url')}`;
    for (const cookie of ['', forged, 'ambipede=', 'ambipede=__proto__', early.cookie]) {
      const watcher = live(athleteId, cookie);
      expect([cookie, await codeOf(watcher)]).toEqual([cookie, LIVE_CLOSE.notSignedIn]);
      expect(watcher.messages).toEqual([]);
    }
  });

  test('of an athlete of somebody else ends as for one who does not exist, whoever asks', async () => {
    const { athleteId } = await watching();
    const strangers = [
      await newPerson({ database, url: api.url }, ['coach', 'physio']),
      await newPerson({ database, url: api.url }, ['keeper']),
    ];
    for (const { cookie } of strangers) {
      const [found, none] = [live(athleteId, cookie), live(NOTHING, cookie)];
      expect(await end(found)).toBe(await end(none));
      expect(await codeOf(found)).toBe(LIVE_CLOSE.noSuchAthlete);
      expect([...found.messages, ...none.messages]).toEqual([]);
    }
    for (const athlete of ["' or 1=1 --", `${athleteId}&athlete=${NOTHING}`.slice(0, 20), '', '../'])
      expect(await codeOf(live(encodeURIComponent(athlete), strangers[0]!.cookie))).toBe(LIVE_CLOSE.noSuchAthlete);
  });

  test('on a page of another site is refused with the cookie of whoever is signed in', async () => {
    const { coach, athleteId } = await watching();
    for (const origin of ['http://elsewhere.example', 'null', `${api.url}.elsewhere.example`, 'http://127.0.0.1:1'])
      expect([origin, await end(live(athleteId, coach.cookie, { origin }))]).toEqual([origin, 403]);
    const unsaid = new WebSocket(`${api.socketUrl}/live?athlete=${athleteId}`, { headers: { cookie: coach.cookie } });
    const status = await new Promise((resolve) =>
      unsaid.on('error', () => undefined).on('unexpected-response', (_, response) => resolve(response.statusCode)),
    );
    expect(status).toBe(403);
  });

  test('is closed at once when its sign-in or its right ends', async () => {
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const ends: ((of: { coach: Person & { account: Account }; athleteId: string }) => Promise<unknown>)[] = [
      ({ coach }) => coach.call('POST', '/api/sign-out'),
      ({ coach }) => keeper.call('PATCH', `/api/accounts/${coach.account.id}`, { closed: true }),
      ({ coach }) => keeper.call('PATCH', `/api/accounts/${coach.account.id}`, { roles: ['keeper'] }),
      ({ coach }) => keeper.call('POST', `/api/accounts/${coach.account.id}/password`),
      ({ coach, athleteId }) => keeper.call('DELETE', `/api/athletes/${athleteId}/carers/${coach.account.id}`),
      async ({ coach, athleteId }) => {
        const [consent] = await coach.call<Consent[]>('GET', `/api/athletes/${athleteId}/consents`);
        const withdrawal = `/api/athletes/${athleteId}/consents/${consent!.id}/withdrawal`;
        return coach.call('POST', withdrawal, { byName: 'Livia' });
      },
    ];
    // Without the regular look: what is tested is that the change itself closes the feed.
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
    for (const [k, ended] of ends.entries()) {
      const { coach, athleteId, watcher } = await watching();
      await ended({ coach, athleteId });
      expect([k, await codeOf(watcher)]).toEqual([k, LIVE_CLOSE.notAllowed]);
    }
  });

  test('is closed at the next regular look when its sign-in ended without anybody telling', async () => {
    expect(RECHECK_EVERY_MS).toBeLessThanOrEqual(15_000);
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
    const { coach, watcher } = await watching();
    await database.sql`delete from sign_ins where account_id = ${coach.account.id}`;
    expect(watcher.ended).toBeNull();
    vi.advanceTimersByTime(RECHECK_EVERY_MS);
    expect(await codeOf(watcher)).toBe(LIVE_CLOSE.notAllowed);
  });

  test('that talks is cut off, and other addresses open no socket', async () => {
    const { watcher, coach } = await watching();
    watcher.socket.send('x'.repeat(LIVE_SOCKET_OPTIONS.maxPayload + 1));
    expect(await codeOf(watcher)).toBe(CLOSE_TOO_BIG);
    for (const path of ['/', '/live/', '/live/../ingest/x', '/api/athletes', '//live', '/ingest%00'])
      expect([path, await end(watch(path, { cookie: coach.cookie }))]).toEqual([path, 404]);
  });
});

describe('a sensor socket', () => {
  const NOT_ENROLLED = closeCodeOf('not-enrolled');
  const enter = (deviceId: string, token: string): Promise<'welcome' | number> => {
    const device = knock(api.socketUrl, deviceId, token);
    knocks.push(device);
    return device.answered();
  };
  const enrol = async (coach: Person, deviceId: string): Promise<string> =>
    (await coach.call<SensorEnrolment>('POST', `/api/sensors/${deviceId}/enrolment`)).token;

  test('is for no page, not even one of this server', async () => {
    for (const origin of [api.url, 'http://elsewhere.example', 'null'])
      expect([origin, await end(watch('/ingest', { origin }))]).toEqual([origin, 403]);
  });

  test('opens with the token of this device that is good now, and with no other', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const [mine, other] = [await enrol(coach, 'attack-pelvis'), await enrol(coach, 'attack-sternum')];
    expect(await enter('attack-pelvis', mine)).toBe('welcome');
    const wrong = [other, '', mine.slice(0, -1), mine.toUpperCase(), randomBytes(32).toString('hex')];
    for (const token of wrong) expect([token, await enter('attack-pelvis', token)]).toEqual([token, NOT_ENROLLED]);
    const [row] = await database.sql`select token_hash from sensors where device_id = 'attack-pelvis'`;
    const stored = Buffer.from(row!['token_hash'] as Uint8Array).toString('hex');
    expect(await enter('attack-pelvis', stored)).toBe(NOT_ENROLLED);
    // A cookie is no token, and a person's sign-in opens no stream.
    expect(await enter('attack-pelvis', coach.cookie.split('=')[1]!)).toBe(NOT_ENROLLED);
  });

  test('is closed when its token is replaced or revoked, and the old one is not taken again', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const first = await enrol(coach, 'attack-old');
    const device = knock(api.socketUrl, 'attack-old', first);
    knocks.push(device);
    expect(await device.answered()).toBe('welcome');
    const second = await enrol(coach, 'attack-old');
    await waitUntil('the first is closed', () => device.closed !== null);
    expect(await enter('attack-old', first)).toBe(NOT_ENROLLED);
    expect(await enter('attack-old', second)).toBe('welcome');
    await coach.call('DELETE', '/api/sensors/attack-old/enrolment');
    expect(await enter('attack-old', second)).toBe(NOT_ENROLLED);
  });
});
