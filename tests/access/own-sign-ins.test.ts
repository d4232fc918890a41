/** One's own sign-ins, and first passwords that run out. OWASP ASVS 4.0.3, 3.3.4 and 2.3.1. */
import { readFile, stat } from 'node:fs/promises';
import { afterEach, beforeAll, describe, expect, test } from 'vitest';
import { FIRST_PASSWORD_DAYS, type ApiError, type OwnSignIn } from '../../shared/src/index.ts';
import { browserInWords } from '../../server/src/access/browser-words.ts';
import { makeFirstKeeper } from '../../server/src/access/first-keeper.ts';
import type { Database } from '../../server/src/store/database.ts';
import { PASSWORD, Person, addByKeeper, newPerson } from '../support/people.ts';
import { useTestApp, type Suite } from '../support/suite-app.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';

const LIST = '/api/me/sign-ins';
const DAY_MS = 24 * 3_600_000;
/** As browsers say it: the forms are common practice, no source. */
const FIREFOX = 'Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0';
const CHROME =
  'Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36';
const SAFARI =
  'Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.0 Safari/604.1';
const EDGE =
  'Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0';

let suite: Suite;
let database: Database;
useTestApp((ready) => ({ database } = suite = ready));

const started: TestApp[] = [];
let nowMs = 1_790_000_000_000;
let api: TestApp;
beforeAll(() => expect(suite).toBeDefined());
async function freshApp(): Promise<TestApp> {
  api = await startTestApp(database, { access: WITH_ACCOUNTS, nowUtcMs: () => nowMs });
  started.push(api);
  return api;
}
afterEach(async () => {
  await Promise.all(started.splice(0).map((each) => each.close()));
});

test.each([
  [FIREFOX, 'Firefox, Linux'],
  [CHROME, 'Chrome, Android'],
  [SAFARI, 'Safari, iPad'],
  [EDGE, 'Edge, Windows'],
  ['<script>alert(1)</script>', ''],
  [undefined, ''],
])('%j in words is %j', (said, words) => {
  expect(browserInWords(said)).toBe(words);
});

describe('one’s own sign-ins', () => {
  const from = async (login: string, userAgent: string): Promise<Person> => {
    const person = new Person(api.url);
    await person.ask('POST', '/api/sign-in', { login, password: PASSWORD }, { 'user-agent': userAgent });
    return person;
  };

  test('are listed with when and where, without address and token, and can each be ended', async () => {
    await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    const { login } = person.account;
    nowMs += 1000;
    const tablet = await from(login, SAFARI);
    nowMs += 1000;
    const phone = await from(login, CHROME);
    const list = await phone.call<OwnSignIn[]>('GET', LIST);
    expect(list.map(({ browser, isThis }) => [browser, isThis])).toEqual([
      ['Chrome, Android', true],
      ['Safari, iPad', false],
      ['', false],
    ]);
    expect(Object.keys(list[0]!).sort()).toEqual(['browser', 'id', 'isThis', 'seenUtcMs', 'startedUtcMs']);
    const left = await phone.call<OwnSignIn[]>('DELETE', `${LIST}/${list[1]!.id}`);
    expect(left.map(({ browser }) => browser)).toEqual(['Chrome, Android', '']);
    expect((await tablet.ask('GET', '/api/me')).status).toBe(401);
    expect((await person.ask('GET', '/api/me')).status).toBe(200);
    expect(await phone.call<OwnSignIn[]>('DELETE', LIST)).toHaveLength(1);
    expect((await person.ask('GET', '/api/me')).status).toBe(401);
    expect((await phone.ask('GET', '/api/me')).status).toBe(200);
  });

  test('are nobody else’s to see or to end, a keeper’s neither', async () => {
    await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const [own] = await person.call<OwnSignIn[]>('GET', LIST);
    expect((await keeper.call<OwnSignIn[]>('GET', LIST)).map(({ id }) => id)).not.toContain(own!.id);
    expect((await keeper.ask('DELETE', `${LIST}/${own!.id}`)).status).toBe(404);
    await keeper.call('DELETE', LIST);
    expect((await person.ask('GET', '/api/me')).status).toBe(200);
  });

  test('that are too old are not listed', async () => {
    await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    nowMs += DAY_MS;
    const again = await from(person.account.login, FIREFOX);
    expect(await again.call<OwnSignIn[]>('GET', LIST)).toHaveLength(1);
  });
});

describe('a first password', () => {
  test(`is good for ${FIRST_PASSWORD_DAYS} days, and then says what to do; a new one is good again`, async () => {
    await freshApp();
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const { id, login, firstPassword } = await addByKeeper(keeper, 'lund.b', ['coach']);
    nowMs += FIRST_PASSWORD_DAYS * DAY_MS - 1;
    expect((await new Person(api.url).signIn(login, firstPassword)).status).toBe(200);
    nowMs += 1;
    const late = await new Person(api.url).ask<ApiError>('POST', '/api/sign-in', { login, password: firstPassword });
    expect([late.status, late.body.error.code]).toEqual([403, 'first-password-over']);
    expect(late.body.error.message).toContain('Ask a keeper for a new one');
    // Whoever does not know it learns nothing.
    expect((await new Person(api.url).signIn(login, 'not the password')).status).toBe(401);
    const again = await signedInKeeper();
    const given = await again.call<{ firstPassword: string }>('POST', `/api/accounts/${id}/password`);
    expect((await new Person(api.url).signIn(login, given.firstPassword)).status).toBe(200);
  });

  test('that its owner chose does not run out', async () => {
    await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    nowMs = Date.now() + 400 * DAY_MS;
    expect((await new Person(api.url).signIn(person.account.login)).status).toBe(200);
  });

  test('in the file on the machine is replaced at the next start when it ran out, and not before', async () => {
    const empty = await suite.server.newDatabase();
    const folder = await makeTempDir();
    const startS = async (afterDays: number) => {
      const file = await makeFirstKeeper(empty.db, folder.folder, nowMs + afterDays * DAY_MS);
      return (await readFile(file!, 'utf8')).trim();
    };
    const first = await startS(0);
    expect(await startS(FIRST_PASSWORD_DAYS - 1)).toBe(first);
    const second = await startS(FIRST_PASSWORD_DAYS);
    expect(second).not.toBe(first);
    expect((await stat(`${folder.folder}/keeper-password`)).mode & 0o777).toBe(0o600);
    nowMs += FIRST_PASSWORD_DAYS * DAY_MS;
    const late = await startTestApp(empty, { access: WITH_ACCOUNTS, nowUtcMs: () => nowMs });
    started.push(late);
    expect((await new Person(late.url).signIn('keeper', first)).status).toBe(401);
    expect((await new Person(late.url).signIn('keeper', second)).status).toBe(200);
    await folder.remove();
  });

  const signedInKeeper = () => newPerson({ database, url: api.url }, ['keeper']);
});
