/** What answers, the log and the audit tell of secrets, of names and of the inside of the server. OWASP ASVS 4.0.3, 7.1.1, 7.1.2 and 7.4.1. */
import { describe, expect, test } from 'vitest';
import type { AccountWithPassword, AthleteSummary, PairingCode, SensorEnrolment } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { knock } from '../support/knock.ts';
import { PASSWORD, Person, newAthleteOf, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const INSIDE = [
  /\bat .*:\d+:\d+/,
  /node_modules/,
  /\.ts\b/,
  /\bselect\b.*\bfrom\b/i,
  /postgres/i,
  /drizzle/i,
  /42P01|23514/,
];

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

describe('a failure inside', () => {
  test('is told in one sentence, with nothing of the inside', async () => {
    const person = await newPerson({ database, url: api.url }, ['coach', 'physio', 'keeper']);
    const id = await newAthleteOf(person, 'Thora');
    const note = { kind: 'note', atUtcMs: 1, authorName: 'Someone', text: 'kneeword' };
    await database.sql`alter table annotations rename to away`;
    try {
      const failing: [string, string, unknown?][] = [
        ['GET', `/api/athletes/${id}/annotations`],
        ['POST', `/api/athletes/${id}/annotations`, note],
        ['GET', `/api/athletes/${id}/session-history?task=run&metric=swingSideDropDeg`],
      ];
      for (const [method, path, body] of failing) {
        const { status, text, headers } = await person.ask(method, path, body);
        expect([path, status, headers.get('content-type')]).toEqual([path, 500, 'application/json; charset=utf-8']);
        const message = expect.stringMatching(/look at the log/);
        expect(JSON.parse(text)).toEqual({ error: { code: 'internal', message } });
        for (const inside of [...INSIDE, /away|annotations|\d+\.\d+\.\d+/]) expect(text).not.toMatch(inside);
      }
      expect(api.log.join('')).toContain('42P01');
      expect(api.log.join('')).not.toContain('kneeword');
    } finally {
      await database.sql`alter table away rename to annotations`;
    }
  });

  test('or a fault of the request tells nothing of the inside', async () => {
    const person = await newPerson({ database, url: api.url }, ['coach', 'physio']);
    const id = await newAthleteOf(person, 'Thora');
    const faulty: [string, string, unknown?][] = [
      ['POST', '/api/athletes', '{"name":'],
      ['GET', `/api/athletes/${id}'/trials`],
      ['GET', '/api/athletes/%/trials'],
      ['GET', `/api/athletes/${id}/history?metric=${'x'.repeat(8000)}`],
      ['PATCH', `/api/athletes/${id}`, { bodyMassKg: 1e308 }],
    ];
    for (const [method, path, body] of faulty) {
      const { status, text } = await person.ask(method, path, body);
      expect([path.slice(0, 60), status]).toEqual([path.slice(0, 60), 400]);
      // The one file that answers name on purpose: what a request may hold.
      for (const inside of INSIDE) expect(text.replaceAll('shared/src/api.ts', '')).not.toMatch(inside);
    }
  });

  test('in what guards the door lets nobody in', async () => {
    const person = await newPerson({ database, url: api.url }, ['coach']);
    for (const table of ['sign_ins', 'audit', 'carers']) {
      const { id } = await person.call<AthleteSummary>('POST', '/api/athletes', { name: 'Door' });
      await database.sql`alter table ${database.sql(table)} rename to away`;
      try {
        const { status, text } = await person.ask('GET', `/api/athletes/${id}/consents`);
        expect([table, status]).toEqual([table, 500]);
        for (const inside of INSIDE) expect(text).not.toMatch(inside);
      } finally {
        await database.sql`alter table away rename to ${database.sql(table)}`;
      }
    }
  });
});

describe('the log and the audit', () => {
  test('of a whole day hold no name, no password, no token, no cookie and no code', async () => {
    const secrets = new Map<string, string>();
    const keep = (what: string, secret: string): string => {
      secrets.set(what, secret);
      return secret;
    };
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    keep('the cookie of the keeper', keeper.cookie.split('=')[1]!);
    const login = keep('a login', 'gunnhild-the-coach');
    const name = keep('a name', 'Gunnhild Fiskaldur');
    const { id, firstPassword } = await keeper.call<AccountWithPassword>('POST', '/api/accounts', {
      ...{ login, name, roles: ['coach', 'physio'], athleteId: null },
    });
    keep('a first password', firstPassword);
    const person = new Person(api.url);
    const typed = keep('a password typed wrong', 'sixteen tonnes of wet sand');
    expect((await person.signIn(login, typed)).status).toBe(401);
    // Somebody types the password where the login belongs.
    await person.signIn(keep('a password in the wrong field', 'oh-no-my-password'), 'x');
    await person.signIn(login, firstPassword);
    keep('a first cookie', person.cookie.split('=')[1]!);
    await person.call('POST', '/api/me/password', { password: firstPassword, newPassword: PASSWORD });
    keep('a cookie', person.cookie.split('=')[1]!);
    keep('a password', PASSWORD);

    const athlete = keep('the name of an athlete', 'Solveig Brekkukot');
    const { id: athleteId } = await person.call<AthleteSummary>('POST', '/api/athletes', { name: athlete });
    const guardian = keep('the name of a guardian', 'Ragnhildur Brekkukot');
    const consent = { purpose: 'recording', givenByName: guardian, guardianOf: 'mother' };
    await person.call('POST', `/api/athletes/${athleteId}/consents`, consent);
    const note = keep('a note', 'hamstring pulled at the third hurdle');
    const said = { kind: 'injury', side: 'left', atUtcMs: 1e12, authorName: name, text: note };
    await person.call('POST', `/api/athletes/${athleteId}/annotations`, said);
    await person.ask('PATCH', `/api/athletes/${athleteId}`, { name: athlete, bodyMassKg: 'heavy' });
    // Requests that fail are logged, and people paste anything into an address.
    const pasted = keep('a word in an address', 'Brekkukot');
    await person.ask('GET', `/api/athletes/${athleteId}/history?metric=${pasted}`);
    await person.ask('GET', `/api/athletes/${pasted}/trials`);
    const { token } = await person.call<SensorEnrolment>('POST', '/api/sensors/logged-pelvis/enrolment');
    const device = knock(api.socketUrl, 'logged-pelvis', keep('the token of a sensor', token));
    expect(await device.answered()).toBe('welcome');
    device.leave();
    const wrong = knock(api.socketUrl, 'logged-pelvis', keep('a wrong token', token.replaceAll(/[0-7]/g, '8')));
    await wrong.answered();
    const { code } = await person.call<PairingCode>('POST', '/api/sensors/logged-pelvis/pairing-code');
    await person.ask('POST', '/api/pairing', { deviceId: 'logged-pelvis', code: keep('a pairing code', code) });
    await keeper.ask('DELETE', `/api/athletes/${athleteId}`, { name: `${athlete}!` });
    await keeper.call('PATCH', `/api/accounts/${id}`, { closed: true });
    await person.ask('GET', '/api/athletes');

    const log = api.log.join('');
    const rows = await database.sql`select audit::text as row from audit`;
    const audit = rows.map(({ row }) => row as string).join('\n');
    expect(log).toContain('/api/athletes/:id/annotations');
    expect(audit).toContain(athleteId);
    expect(rows.length).toBeGreaterThan(10);
    for (const [what, secret] of secrets)
      expect([what, log.includes(secret), audit.includes(secret)]).toEqual([what, false, false]);
    // Nor anywhere in the store: hashes only.
    const stored = await database.sql`
      select accounts::text as row from accounts union all select sign_ins::text from sign_ins union all select sensors::text from sensors`;
    const text = stored.map(({ row }) => row as string).join('\n');
    for (const what of [
      'a password',
      'a first password',
      'a cookie',
      'the token of a sensor',
      'the cookie of the keeper',
    ])
      expect([what, text.includes(secrets.get(what)!)]).toEqual([what, false]);
    expect(text).toContain('$argon2id$');
  });
});
