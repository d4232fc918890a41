/** One address asks and asks; one login is tried from everywhere; hashes pile up. OWASP ASVS 4.0.3, 2.2.1 and 11.1.4. */
import { expect, test } from 'vitest';
import { LOGIN_CHARACTERS_MAX, type ApiError } from '../../shared/src/index.ts';
import { FAILURES_FREE } from '../../server/src/access/attempts.ts';
import { PASSWORD_CHECKS_WAITING_MAX, hashOfPassword } from '../../server/src/access/passwords.ts';
import { REQUESTS_A_MINUTE_MAX } from '../../server/src/access/rate-limit.ts';
import type { Database } from '../../server/src/store/database.ts';
import { PASSWORD, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

let addresses = 0;
/** Of the range for documentation (RFC 3849). */
const newAddress = () => `2001:db8:${(++addresses).toString(16)}::1`;
async function signIn(login: string, password: string, remoteAddress = newAddress()) {
  const headers = { host: 'club.example', origin: 'http://club.example' };
  const asked = { method: 'POST', url: '/api/sign-in', headers, remoteAddress, payload: { login, password } } as const;
  const answer = await api.app.inject(asked);
  return { status: answer.statusCode, code: answer.json<Partial<ApiError>>().error?.code ?? null, text: answer.body };
}

test('requests of one address are stopped, those that are refused anyway too, while another address is answered', async () => {
  const ask = (remoteAddress: string) =>
    api.app.inject({ url: '/api/athletes', headers: { cookie: 'ambipede=x' }, remoteAddress });
  // Of the ranges for documentation (RFC 5737).
  const [flooding, other] = ['192.0.2.7', '192.0.2.8'];
  const statuses: Record<number, number> = {};
  for (let i = 0; i < REQUESTS_A_MINUTE_MAX + 10; i += 1) {
    const { statusCode } = await ask(flooding);
    statuses[statusCode] = (statuses[statusCode] ?? 0) + 1;
  }
  expect(statuses).toEqual({ 401: REQUESTS_A_MINUTE_MAX, 429: 10 });
  expect(Number((await ask(flooding)).headers['retry-after'])).toBeGreaterThan(0);
  expect((await ask(other)).statusCode).toBe(401);
});

test('a login that is tried from many addresses at once is tried no more often than one after another', async () => {
  const { login } = (await newPerson({ database, url: api.url }, ['coach'])).account;
  const tries = Array.from({ length: 3 * FAILURES_FREE }, (_, i) => signIn(login, `guess ${i} of many`));
  const codes = (await Promise.all(tries)).map(({ code }) => code);
  expect(codes.filter((code) => code === 'wrong-login-or-password')).toHaveLength(FAILURES_FREE);
  expect(codes.filter((code) => code === 'too-many-attempts')).toHaveLength(2 * FAILURES_FREE);
  expect((await signIn(login, PASSWORD)).status).toBe(429);
});

test('a login that does not exist is hashed for like one that does: both are sent away while too many hashes wait', async () => {
  const { login } = (await newPerson({ database, url: api.url }, ['coach'])).account;
  const waiting = Array.from({ length: PASSWORD_CHECKS_WAITING_MAX }, () => hashOfPassword('keeps the queue full'));
  const [unknown, known] = await Promise.all([signIn('nobody-here', 'not it'), signIn(login, 'not it')]);
  await Promise.all(waiting);
  expect([known.status, known.code]).toEqual([429, 'too-many-attempts']);
  expect(unknown).toEqual(known);
});

test('a password of megabytes is refused before it is hashed', async () => {
  const sizes = [1001, 60_000, 70_000].map((length) => signIn('keeper', 'x'.repeat(length)));
  expect((await Promise.all(sizes)).map(({ status }) => status)).toEqual([400, 400, 413]);
  expect((await signIn('k'.repeat(LOGIN_CHARACTERS_MAX + 1), PASSWORD)).status).toBe(400);
});
