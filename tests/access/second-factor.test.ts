/** A second factor on the whole server, by its owner and by whoever knows the password. OWASP ASVS 4.0.3, 2.8.1 to 2.8.6 and 4.3.1. */
import { afterEach, describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import {
  CODE_NEEDED,
  LIVE_CLOSE,
  SECOND_FACTOR_IS_DUE,
  type Account,
  type ApiError,
  type AuditEntry,
  type Me,
  type Role,
  type SecondFactorOffer,
} from '../../shared/src/index.ts';
import { FAILURES_FREE, WAIT_MS_MAX } from '../../server/src/access/attempts.ts';
import { STEP_S, stepOf } from '../../server/src/access/one-time-code.ts';
import { OFFER_MS } from '../../server/src/access/second-factor-offers.ts';
import type { Database } from '../../server/src/store/database.ts';
import { PASSWORD, Person, newAthleteOf, newPerson } from '../support/people.ts';
import { codeOf as codeAt } from '../support/phone.ts';
import { useTestApp } from '../support/suite-app.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';

const PATH = '/api/me/second-factor';
const STEP_MS = STEP_S * 1000;

let database: Database;
useTestApp((suite) => ({ database } = suite));

const started: TestApp[] = [];
let nowMs = 1_790_000_000_000;
async function freshApp(keepersNeedSecondFactor = false): Promise<TestApp> {
  const access = { ...WITH_ACCOUNTS, keepersNeedSecondFactor };
  const api = await startTestApp(database, { access, nowUtcMs: () => nowMs });
  started.push(api);
  return api;
}
afterEach(async () => {
  await Promise.all(started.splice(0).map((api) => api.close()));
});

/** Of the app on the phone, by the clock of the test. */
const codeOf = (key: string, stepsAway = 0): string => codeAt(key, stepOf(nowMs) + stepsAway);

async function withFactor(api: TestApp, roles: Role[] = ['coach']) {
  const person = await newPerson({ database, url: api.url }, roles);
  const { key, uri } = await person.call<SecondFactorOffer>('POST', PATH, { password: PASSWORD });
  const me = await person.call<Me>('PUT', PATH, { code: codeOf(key) });
  return { person, key, uri, me, login: person.account.login };
}
const signIn = (api: TestApp, login: string, code?: string, password = PASSWORD) =>
  new Person(api.url).ask<ApiError>('POST', '/api/sign-in', { login, password, ...(code !== undefined && { code }) });
const wordOf = ({ status, body }: { status: number; body: ApiError }) => [status, body.error?.code];

describe('a second factor', () => {
  test('is on once a right code has come back, and is asked for from then on', async () => {
    const api = await freshApp();
    const { login, key, uri, me } = await withFactor(api);
    expect(me.secondFactor).toBe('on');
    expect(key).toMatch(/^[A-Z2-7]{32}$/);
    expect(uri).toBe(`otpauth://totp/Ambipede:${login}?secret=${key}&issuer=Ambipede`);
    nowMs += STEP_MS;
    expect(wordOf(await signIn(api, login))).toEqual([401, CODE_NEEDED]);
    expect((await signIn(api, login, codeOf(key))).status).toBe(200);
  });

  test('is not on with a wrong code, without the password, or after its time', async () => {
    const api = await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    expect((await person.ask('POST', PATH, { password: 'not the password' })).status).toBe(401);
    expect(wordOf(await person.ask<ApiError>('PUT', PATH, { code: '123456' }))).toEqual([
      409,
      'no-second-factor-offer',
    ]);
    const { key } = await person.call<SecondFactorOffer>('POST', PATH, { password: PASSWORD });
    expect(wordOf(await person.ask<ApiError>('PUT', PATH, { code: codeOf(key, 5) }))).toEqual([401, 'wrong-code']);
    expect((await person.call<Me>('GET', '/api/me')).secondFactor).toBe('off');
    nowMs += OFFER_MS;
    expect((await person.ask('PUT', PATH, { code: codeOf(key) })).status).toBe(409);
    expect((await signIn(api, person.account.login)).status).toBe(200);
  });

  test('ends the other sign-ins of the account when it comes and when it goes', async () => {
    const api = await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    const tablet = new Person(api.url);
    await tablet.signIn(person.account.login);
    const { key } = await person.call<SecondFactorOffer>('POST', PATH, { password: PASSWORD });
    await person.call('PUT', PATH, { code: codeOf(key) });
    expect((await tablet.ask('GET', '/api/me')).status).toBe(401);
    expect((await person.ask('GET', '/api/me')).status).toBe(200);
    expect((await person.ask('POST', PATH, { password: PASSWORD })).status).toBe(409);
    nowMs += STEP_MS;
    await tablet.call('POST', '/api/sign-in', { login: person.account.login, password: PASSWORD, code: codeOf(key) });
    nowMs += STEP_MS;
    expect((await person.ask('DELETE', PATH, { password: PASSWORD, code: '000000' })).status).toBe(401);
    expect((await person.ask('DELETE', PATH, { password: 'not the password', code: codeOf(key) })).status).toBe(401);
    expect((await person.call<Me>('DELETE', PATH, { password: PASSWORD, code: codeOf(key) })).secondFactor).toBe('off');
    expect((await tablet.ask('GET', '/api/me')).status).toBe(401);
    expect((await signIn(api, person.account.login)).status).toBe(200);
  });

  test('stays when the password is changed', async () => {
    const api = await freshApp();
    const { person, login, key } = await withFactor(api);
    const newPassword = 'quarter past seven, lane two';
    const me = await person.call<Me>('POST', '/api/me/password', { password: PASSWORD, newPassword });
    expect(me.secondFactor).toBe('on');
    nowMs += STEP_MS;
    expect(wordOf(await signIn(api, login, undefined, newPassword))).toEqual([401, CODE_NEEDED]);
    expect((await signIn(api, login, codeOf(key), newPassword)).status).toBe(200);
  });

  test('that is lost with the phone is taken away by a keeper, not by others', async () => {
    const api = await freshApp();
    const { person, login, key } = await withFactor(api);
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const physio = await newPerson({ database, url: api.url }, ['physio']);
    const path = `/api/accounts/${person.account.id}/second-factor`;
    expect((await physio.ask('DELETE', path)).status).toBe(403);
    expect((await person.ask('DELETE', path)).status).toBe(403);
    expect((await keeper.call<Account>('DELETE', path)).secondFactorSinceUtcMs).toBeNull();
    expect((await person.ask('GET', '/api/me')).status).toBe(401);
    expect((await keeper.ask('DELETE', path)).status).toBe(409);
    expect((await signIn(api, login)).status).toBe(200);
    const actions = (await keeper.call<AuditEntry[]>('GET', '/api/audit')).map(({ action }) => action);
    expect(actions).toEqual(expect.arrayContaining(['second factor on', 'DELETE /api/accounts/:id/second-factor']));
    expect(JSON.stringify(await keeper.call('GET', '/api/accounts'))).not.toContain(key);
  });
});

describe('whoever knows the password', () => {
  test('gets in with no code that was used, be it at the same moment, and that is written down', async () => {
    const api = await freshApp();
    const { login, key } = await withFactor(api);
    nowMs += 2 * STEP_MS;
    const code = codeOf(key);
    const together = await Promise.all([1, 2, 3].map(() => signIn(api, login, code)));
    expect(together.map(({ status }) => status).sort()).toEqual([200, 401, 401]);
    expect(wordOf(await signIn(api, login, code))).toEqual([401, 'code-used-before']);
    // One from before it, which was never used, neither.
    expect(wordOf(await signIn(api, login, codeOf(key, -1)))).toEqual([401, 'code-used-before']);
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const audit = await keeper.call<AuditEntry[]>('GET', '/api/audit');
    expect(audit.filter(({ action }) => action === 'sign-in with a code used before')).toHaveLength(4);
  });

  test('gets in with no code of somebody else, and none of an hour ago', async () => {
    const api = await freshApp();
    const [one, other] = [await withFactor(api), await withFactor(api)];
    nowMs += 2 * STEP_MS;
    expect(wordOf(await signIn(api, one.login, codeOf(other.key)))).toEqual([401, 'wrong-code']);
    expect(wordOf(await signIn(api, one.login, codeOf(one.key, -120)))).toEqual([401, 'wrong-code']);
  });

  test('cannot try codes: they count as wrong passwords do, and the right one waits as well', async () => {
    const api = await freshApp();
    const { login, key } = await withFactor(api);
    nowMs += STEP_MS;
    const answers: number[] = [];
    for (let i = 0; i < FAILURES_FREE + 1; i += 1) answers.push((await signIn(api, login, codeOf(key, 10 + i))).status);
    expect(answers).toEqual([...Array.from({ length: FAILURES_FREE }, () => 401), 429]);
    expect((await signIn(api, login, codeOf(key))).status).toBe(429);
    nowMs += WAIT_MS_MAX;
    expect((await signIn(api, login, codeOf(key))).status).toBe(200);
  });

  test('is not told that an account has one before the password is right', async () => {
    const api = await freshApp();
    const { login } = await withFactor(api);
    expect(wordOf(await signIn(api, login, undefined, 'not the password'))).toEqual([401, 'wrong-login-or-password']);
    expect(wordOf(await signIn(api, login, '123456', 'not the password'))).toEqual([401, 'wrong-login-or-password']);
  });
});

describe('a keeper of a server that others reach', () => {
  test('can do nothing before it is on, not on the live feed either; nobody else is held up', async () => {
    const api = await freshApp(true);
    const keeper = await newPerson({ database, url: api.url }, ['keeper', 'coach']);
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const athleteId = await newAthleteOf(coach, 'Mira Sand');
    expect((await keeper.call<Me>('GET', '/api/me')).secondFactor).toBe('due');
    for (const [method, path] of [
      ['GET', '/api/accounts'],
      ['GET', '/api/athletes'],
      ['GET', '/api/audit'],
      ['GET', '/api/me/sign-ins'],
      ['DELETE', `/api/athletes/${athleteId}`],
    ] as const)
      expect(wordOf(await keeper.ask<ApiError>(method, path))).toEqual([403, SECOND_FACTOR_IS_DUE]);
    expect((await coach.call<Me>('GET', '/api/me')).secondFactor).toBe('off');
    // Refused by its close code, so that the page can tell why (shared/src/live.ts); an open one begins to tell.
    const feed = (cookie: string) =>
      new Promise<number | 'open'>((resolve) => {
        const socket = new WebSocket(`${api.socketUrl}/live?athlete=${athleteId}`, {
          headers: { origin: api.url, cookie },
        });
        socket.on('close', resolve);
        socket.on('message', () => {
          resolve('open');
          socket.terminate();
        });
      });
    expect(await feed(keeper.cookie)).toBe(LIVE_CLOSE.notSignedIn);
    expect(await feed(coach.cookie)).toBe('open');

    const { key } = await keeper.call<SecondFactorOffer>('POST', PATH, { password: PASSWORD });
    expect((await keeper.call<Me>('PUT', PATH, { code: codeOf(key) })).secondFactor).toBe('on');
    expect((await keeper.ask('GET', '/api/accounts')).status).toBe(200);
    nowMs += STEP_MS;
    await keeper.call('DELETE', PATH, { password: PASSWORD, code: codeOf(key) });
    expect(wordOf(await keeper.ask<ApiError>('GET', '/api/accounts'))).toEqual([403, SECOND_FACTOR_IS_DUE]);
  });
});
