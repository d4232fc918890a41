/** SQL, operators of objects and poisoned keys in every text that a request can hold. OWASP ASVS 4.0.3, 5.1.2, 5.3.4 and 5.5.3. */
import { beforeAll, describe, expect, test } from 'vitest';
import type { ApiError } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { allRows } from '../integration/backup-fixture.ts';
import { Person, newAthleteOf, newPerson } from '../support/people.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { goodRequests, withEachTextAs, type GoodRequest } from './attack-requests.ts';

const NOTHING = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
const NAMELESS = 'Elsewhere';
/** Common practice, no source: ends a text, adds a statement, always true, joins a table, waits, ends a cast. */
const SQL = [
  `'; drop table athletes; --`,
  `x' union select password_hash, login, name, null from accounts --`,
  `1 or 1=1; $$; update accounts set roles = '{keeper}'; select pg_sleep(30); $$ {"$ne": null} \\' %`,
];
/** The first ends the sign-in; the second starts a thread for each: it is held to its schema like the others (below). */
const LEFT_OUT = ['POST /api/sign-out', 'POST /api/athletes/:id/imports/csv'];
/** PostgreSQL's and the driver's way of speaking. */
const SPEAKS_OF_SQL = /syntax error|relation "|SQLSTATE|PostgresError|drizzle|select .* from |violates|pg_/i;

let api: TestApp;
let database: Database;
let person: Person;
let athleteId: string;
let sessionIds: string[];
let requests: Record<string, GoodRequest>;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

beforeAll(async () => {
  const other = await newPerson({ database, url: api.url }, ['coach']);
  await newAthleteOf(other, NAMELESS);
  person = await newPerson({ database, url: api.url }, ['keeper', 'coach', 'physio']);
  athleteId = await newAthleteOf(person, 'Nora');
  const stored = [await storeSession(database, athleteId, 1e12, []), await storeSession(database, athleteId, 2e12, [])];
  sessionIds = stored.map(({ sessionId }) => sessionId);
  requests = goodRequests({ athleteId, sessionId: sessionIds[0]!, otherSessionId: sessionIds[1]! });
});

const routes = () =>
  api.app
    .accessRules()
    .flatMap(({ method, url, rule }) =>
      method.split(',').map((one) => ({ method: one, url, key: `${one} ${url}`, rule })),
    )
    .filter(({ method, url, key }) => method !== 'HEAD' && url.startsWith('/api/') && !LEFT_OUT.includes(key));

const idOf = (url: string, what: string | null): string =>
  url.startsWith('/api/accounts') ? NOTHING : ({ session: sessionIds[0]!, trial: NOTHING }[what ?? ''] ?? athleteId);

/** The route with one part of its address, one text of its query or one of its body replaced, for each of these. */
function* attempts(text: string): Generator<{ method: string; path: string; body?: unknown; key: string }> {
  for (const { method, url, key, rule } of routes()) {
    const { query = {}, body } = requests[key] ?? {};
    const of = rule?.kind === 'athlete' ? rule.of.what : null;
    const fill = (template: string) =>
      template
        .replace(':id', idOf(url, of))
        .replace(':deviceId', 'some-pelvis')
        .replace(':step', 'forward_bow')
        .replaceAll(/:\w+/g, NOTHING);
    const path = (texts: object, template = url) => {
      const search = new URLSearchParams(texts as Record<string, string>).toString();
      return fill(template) + (search === '' ? '' : `?${search}`);
    };
    const parameters = url.match(/:\w+/g) ?? [];
    const good = body === undefined ? {} : { body };
    for (const each of parameters)
      yield { method, key, path: path(query, url.replace(each, encodeURIComponent(text))), ...good };
    for (const each of withEachTextAs(query, text)) yield { method, key, path: path(each as object), ...good };
    yield { method, key, path: path({ ...query, extra: text }), ...good };
    for (const each of withEachTextAs(body, text)) yield { method, key, path: path(query), body: each };
  }
}

describe('SQL in a request', () => {
  test('is a text like any other, in every part of an address, a query and a body', async () => {
    const before = await allRows(database);
    const foreign = (rows: Record<string, string[]>) => rows['athletes']!.filter((row) => row.includes(NAMELESS));
    let asked = 0;
    const answered = new Set<string>();
    for (const text of SQL) {
      for (const { method, path, body, key } of attempts(text)) {
        const answer = await person.ask(method, path, body);
        expect([key, path, answer.status < 500, answer.status === 401 && !/sign-in|password/.test(key)]).toEqual([
          ...[key, path, true, false],
        ]);
        const told = answer.status < 400 ? '' : answer.text.replaceAll(JSON.stringify(text).slice(1, -1), '');
        expect([key, SPEAKS_OF_SQL.exec(told)]).toEqual([key, null]);
        if (answer.status < 300) answered.add(key);
        asked += 1;
      }
    }
    expect(asked).toBeGreaterThan(400);
    // Some are taken, as texts: else nothing of this had reached the database.
    expect(answered.size).toBeGreaterThan(8);
    const after = await allRows(database);
    expect(Object.keys(after)).toEqual(Object.keys(before));
    expect(foreign(after)).toEqual(foreign(before));
    const keepers = await database.sql`select id from accounts where 'keeper' = any(roles)`;
    expect(keepers).toHaveLength(1);
    expect(after['audit']!.length).toBeGreaterThanOrEqual(before['audit']!.length);
    // What was taken is stored as it was written.
    const [stored] = await database.sql`select count(*)::int as n from athletes where name = ${SQL[0]!}`;
    expect(stored!['n']).toBeGreaterThan(0);
  });
});

describe('a key that would reach the prototype of objects', () => {
  test.each([
    '{"__proto__": {"polluted": true}, "name": "P"}',
    '{"name": "P", "constructor": {"prototype": {"polluted": true}}}',
    '{"name": "P", "prototype": {"polluted": true}}',
    '{"roles": ["keeper"], "__proto__": {"passwordIsFirst": false}}',
  ])('is refused at every route that takes a body: %s', async (body) => {
    let asked = 0;
    for (const [key, good] of Object.entries(requests)) {
      if (good.body === undefined) continue;
      const [method = '', url = ''] = key.split(' ');
      const id = idOf(
        url,
        url.startsWith('/api/sessions') ? 'session' : url.startsWith('/api/trials') ? 'trial' : null,
      );
      const path = url.replace(':id', id).replace(':deviceId', 'some-pelvis').replaceAll(/:\w+/g, NOTHING);
      // The good one with the poison beside it: nothing else is wrong with it.
      const poisoned = `${JSON.stringify(good.body).slice(0, -1)},${body.slice(1)}`;
      const { status } = await person.ask<ApiError>(method, path, poisoned);
      const without = await person.ask<ApiError>('GET', '/api/me');
      expect([key, [400, 404, 429].includes(status), without.status]).toEqual([key, true, 200]);
      asked += 1;
    }
    expect(asked).toBeGreaterThan(20);
    expect(({} as Record<string, unknown>)['polluted']).toBeUndefined();
  });

  test('in a query is a name like any other', async () => {
    const path = `/api/athletes/${athleteId}/history?metric=swingSideDropDeg&__proto__[polluted]=1&constructor.prototype.polluted=1`;
    expect((await person.ask('GET', path)).status).toBe(200);
    expect(({} as Record<string, unknown>)['polluted']).toBeUndefined();
  });
});
