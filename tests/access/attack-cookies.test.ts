/** Cookies that are forged, planted, kept too long or sent twice. OWASP ASVS 4.0.3, 3.2 to 3.4; RFC 6265bis, 4.1.3.2. */
import { randomBytes } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Me } from '../../shared/src/index.ts';
import {
  IDLE_MS_MAX,
  OLD_TOKEN_GRACE_MS,
  ROTATE_AFTER_MS,
  SIGN_IN_MS_MAX,
} from '../../server/src/access/sign-in-life.ts';
import type { Database } from '../../server/src/store/database.ts';
import { PASSWORD, Person, addByKeeper, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';

let database: Database;
let api: TestApp;
let nowMs = 1_790_000_000_000;
useTestApp(({ database: made }) => (database = made));
beforeAll(async () => {
  api = await startTestApp(database, { access: WITH_ACCOUNTS, nowUtcMs: () => nowMs });
});
afterAll(() => api?.close());

const somebody = () => newPerson({ database, url: api.url }, ['coach']);
async function statusWith(cookie: string): Promise<number> {
  const person = new Person(api.url);
  person.cookie = cookie;
  return (await person.ask('GET', '/api/me')).status;
}

describe('a cookie', () => {
  test('that is guessed, or read out of the database, opens nothing', async () => {
    const person = await somebody();
    const [row] = await database.sql`select token_hash from sign_ins where account_id = ${person.account.id}`;
    const hash = Buffer.from(row!['token_hash'] as Uint8Array);
    const token = person.cookie.split('=')[1]!;
    const forged = [hash.toString('base64url'), hash.toString('hex'), randomBytes(32).toString('base64url')];
    const shapes = [`${token}A`, token.slice(1), token.toLowerCase(), `${token}%00`, `"${token}" `, '', '__proto__'];
    for (const value of [...forged, ...shapes])
      expect([value, await statusWith(`ambipede=${value}`)]).toEqual([value, 401]);
    expect(await statusWith(person.cookie)).toBe(200);
  });

  test('that was planted before the sign-in is not the one after it, and stays worthless', async () => {
    const { account } = await somebody();
    const planted = `ambipede=${randomBytes(32).toString('base64url')}`;
    const person = new Person(api.url);
    person.cookie = planted;
    expect((await person.signIn(account.login)).status).toBe(200);
    expect(person.cookie).not.toBe(planted);
    expect(await statusWith(planted)).toBe(401);
    // Neither does a good one of somebody else become theirs.
    const attacker = await somebody();
    const own = attacker.cookie;
    const victim = new Person(api.url);
    victim.cookie = own;
    await victim.signIn(account.login);
    expect(victim.cookie).not.toBe(own);
    attacker.cookie = own;
    expect((await attacker.ask<Me>('GET', '/api/me')).body.accountId).toBe(attacker.account.id);
  });

  test('that is sent twice makes one person of it or none', async () => {
    const [one, other] = [await somebody(), await somebody()];
    const both = new Person(api.url);
    both.cookie = `${one.cookie}; ${other.cookie}`;
    const { body } = await both.ask<Me>('GET', '/api/me');
    expect([body.accountId, body.name]).toEqual([one.account.id, one.account.name]);
    expect(await statusWith(`ambipede=x; ${one.cookie}`)).toBe(401);
  });

  test('is out of reach of scripts and of other sites, and is in no answer but its header', async () => {
    const { account } = await somebody();
    const { headers, text } = await new Person(api.url).signIn(account.login);
    const [cookie = ''] = headers.getSetCookie();
    const [pair = '', ...flags] = cookie.split('; ');
    expect(flags.sort()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict']);
    const token = pair.split('=')[1]!;
    expect(Buffer.from(token, 'base64url')).toHaveLength(32);
    expect(text).not.toContain(token);
  });
});

describe('behind TLS a cookie', () => {
  test('is held to this host and to TLS, and one without the prefix is not looked at', async () => {
    const access = { ...WITH_ACCOUNTS, publicUrl: 'https://club.example' };
    const proxied = await startTestApp(database, { access, nowUtcMs: () => nowMs });
    try {
      const { account } = await somebody();
      const answer = await fetch(`${proxied.url}/api/sign-in`, {
        method: 'POST',
        headers: { origin: 'https://club.example', 'content-type': 'application/json' },
        body: JSON.stringify({ login: account.login, password: PASSWORD }),
      });
      const [pair = '', ...flags] = answer.headers.getSetCookie()[0]!.split('; ');
      expect(pair).toMatch(/^__Host-ambipede=/);
      expect(flags.sort()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict', 'Secure']);
      expect(answer.headers.get('strict-transport-security')).toMatch(/^max-age=\d{8}$/);
      const me = async (cookie: string) => (await fetch(`${proxied.url}/api/me`, { headers: { cookie } })).status;
      expect(await me(pair)).toBe(200);
      // A neighbour under the same domain can set one like this.
      expect(await me(pair.replace('__Host-', ''))).toBe(401);
    } finally {
      await proxied.close();
    }
  });
});

describe('a sign-in ends', () => {
  test('after half an hour without use, and after twelve hours in use', async () => {
    const idle = await somebody();
    nowMs += IDLE_MS_MAX;
    expect(await statusWith(idle.cookie)).toBe(401);
    const busy = await somebody();
    for (let ms = 0; ms < SIGN_IN_MS_MAX - ROTATE_AFTER_MS; ms += ROTATE_AFTER_MS) {
      nowMs += ROTATE_AFTER_MS;
      expect((await busy.ask('GET', '/api/me')).status).toBe(200);
    }
    nowMs += ROTATE_AFTER_MS;
    expect(await statusWith(busy.cookie)).toBe(401);
  });

  test('for thief and owner when a value is used long after it was replaced', async () => {
    const owner = await somebody();
    const stolen = owner.cookie;
    // The first request brings the value back, the next one after a while replaces it.
    await owner.call('GET', '/api/me');
    nowMs += ROTATE_AFTER_MS;
    await owner.call('GET', '/api/me');
    expect(owner.cookie).not.toBe(stolen);
    await owner.call('GET', '/api/me');
    nowMs += OLD_TOKEN_GRACE_MS;
    expect(await statusWith(stolen)).toBe(401);
    expect(await statusWith(owner.cookie)).toBe(401);
  });

  test('everywhere else when the password, the roles or the account change', async () => {
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const { id, firstPassword } = await addByKeeper(keeper, 'changing', ['coach']);
    const open = async (password: string): Promise<Person> => {
      const person = new Person(api.url);
      expect((await person.signIn('changing', password)).status).toBe(200);
      return person;
    };
    const [here, there] = [await open(firstPassword), await open(firstPassword)];
    const before = here.cookie;
    await here.call('POST', '/api/me/password', { password: firstPassword, newPassword: PASSWORD });
    expect([await statusWith(there.cookie), await statusWith(before)]).toEqual([401, 401]);
    expect(await statusWith(here.cookie)).toBe(200);
    await keeper.call('PATCH', `/api/accounts/${id}`, { roles: ['physio'] });
    expect(await statusWith(here.cookie)).toBe(401);
    const again = await open(PASSWORD);
    await keeper.call('PATCH', `/api/accounts/${id}`, { closed: true });
    expect(await statusWith(again.cookie)).toBe(401);
    expect((await new Person(api.url).signIn('changing')).status).toBe(401);
  });
});
