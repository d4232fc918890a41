/** Passwords tried in great number. OWASP ASVS 4.0.3, 2.2.1; that an unknown login answers like a known one is common practice, no source. */
import { afterEach, describe, expect, test } from 'vitest';
import { FAILURES_FREE, WAIT_MS_FIRST } from '../../server/src/access/attempts.ts';
import { SIGN_INS_A_MINUTE_MAX } from '../../server/src/routes/sign-in.ts';
import type { Database } from '../../server/src/store/database.ts';
import { Person, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';

const WRONG = 'not the password at all';

let database: Database;
useTestApp((suite) => ({ database } = suite));

const started: TestApp[] = [];
let nowMs = 1_790_000_000_000;
/** Each with counts of its own. */
async function freshApp(): Promise<TestApp> {
  const api = await startTestApp(database, { access: WITH_ACCOUNTS, nowUtcMs: () => nowMs });
  started.push(api);
  return api;
}
afterEach(async () => {
  await Promise.all(started.splice(0).map((api) => api.close()));
});

const statuses = async (api: TestApp, login: string, passwords: string[]): Promise<number[]> => {
  const found: number[] = [];
  for (const password of passwords) found.push((await new Person(api.url).signIn(login, password)).status);
  return found;
};
const wrong = (count: number): string[] => Array.from({ length: count }, () => WRONG);

describe('somebody who tries passwords', () => {
  test('of one login is held up, even with the right one, and nobody else is', async () => {
    const api = await freshApp();
    const victim = await newPerson({ database, url: api.url }, ['coach']);
    const other = await newPerson({ database, url: api.url }, ['coach']);
    const { login } = victim.account;
    expect(await statuses(api, login, wrong(FAILURES_FREE + 1))).toEqual([...wrong(FAILURES_FREE).map(() => 401), 429]);
    expect((await new Person(api.url).signIn(login)).status).toBe(429);
    // Whoever is signed in already goes on; others sign in as ever.
    expect((await victim.ask('GET', '/api/me')).status).toBe(200);
    expect((await new Person(api.url).signIn(other.account.login)).status).toBe(200);
    nowMs += WAIT_MS_FIRST;
    expect((await new Person(api.url).signIn(login)).status).toBe(200);
  });

  test('gets no more tries by writing the login otherwise, or by asking many at once', async () => {
    const api = await freshApp();
    const { login } = (await newPerson({ database, url: api.url }, ['coach'])).account;
    const spellings = [
      login.toUpperCase(),
      ` ${login}`,
      `${login} `,
      `${login[0]!.toUpperCase()}${login.slice(1)}`,
      login,
    ];
    const one = await Promise.all([...spellings, ...spellings].map((each) => new Person(api.url).signIn(each, WRONG)));
    const counts = [401, 429].map((status) => one.filter((answer) => answer.status === status).length);
    expect(counts).toEqual([FAILURES_FREE, one.length - FAILURES_FREE]);
  });

  test('learns nothing of which logins there are', async () => {
    const api = await freshApp();
    const { login } = (await newPerson({ database, url: api.url }, ['coach'])).account;
    const answersOf = async (name: string) => {
      const answers = [];
      for (let i = 0; i <= FAILURES_FREE; i += 1) {
        const { status, text, headers } = await new Person(api.url).signIn(name, WRONG);
        answers.push({ status, text, cookies: headers.getSetCookie() });
      }
      return answers;
    };
    expect(await answersOf('nobody-of-that-name')).toEqual(await answersOf(login));
  });

  test('of many logins from one address is held up, whatever address the request names', async () => {
    const api = await freshApp();
    const answers: number[] = [];
    for (let i = 0; i <= SIGN_INS_A_MINUTE_MAX; i += 1) {
      const headers = { 'x-forwarded-for': `203.0.113.${i}`, forwarded: `for=203.0.113.${i}` };
      const body = { login: `guessed-${i}`, password: WRONG };
      answers.push((await new Person(api.url).ask('POST', '/api/sign-in', body, headers)).status);
    }
    expect(new Set(answers.slice(0, -1))).toEqual(new Set([401]));
    expect(answers.at(-1)).toBe(429);
    // The pages and the sensors of the same address go on.
    expect((await fetch(`${api.url}/healthz/alive`)).status).toBe(200);
  });

  test('by changing the password of a stolen sign-in is held up as well', async () => {
    const api = await freshApp();
    const person = await newPerson({ database, url: api.url }, ['coach']);
    const change = () =>
      person.ask('POST', '/api/me/password', { password: WRONG, newPassword: 'eleven green bottles' });
    for (let i = 0; i < FAILURES_FREE; i += 1) expect((await change()).status).toBe(401);
    expect((await change()).status).toBe(429);
  });
});
