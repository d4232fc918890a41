/** No name and nothing that a person typed is in the log, whichever way it went wrong. */
import postgres from 'postgres';
import { describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import type { AthleteSummary } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { describeError } from '../../server/src/ops/safe-log.ts';
import { useTestApp } from '../support/suite-app.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';

/** Looked for in the log as it is; it stands in every place that a client can fill. */
const SECRET = 'Wilhelmina';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));

const send = async (
  method: string,
  path: string,
  body?: string,
  headers: Record<string, string> = {},
): Promise<number> => {
  const type = { 'content-type': 'application/json' };
  const init = {
    method,
    headers: { ...(body !== undefined && type), ...headers },
    ...(body !== undefined && { body }),
  };
  return (await fetch(api.url + path, init)).status;
};

describe('the log', () => {
  test('holds one line for each request that changed something or failed, without what was in it', async () => {
    const before = api.log.length;
    const athlete = await api.call<AthleteSummary>('POST', '/api/athletes', { name: SECRET });
    await send('GET', `/api/athletes/${athlete.id}/history?metric=${SECRET}`);
    await send('GET', '/api/athletes');
    const lines = api.log.slice(before).map((line) => JSON.parse(line) as Record<string, unknown>);
    expect(lines.map(({ method, route, status }) => [method, route, status])).toEqual([
      ['POST', '/api/athletes', 201],
      ['GET', '/api/athletes/:id/history', 400],
    ]);
    const kept = ['level', 'time', 'pid', 'hostname', 'reqId', 'method', 'route', 'status', 'ms', 'msg'];
    for (const line of lines) expect(kept).toEqual(expect.arrayContaining(Object.keys(line)));
  });

  test('holds no name from a body, a path, a query, a header, a cookie or a socket', async () => {
    const statuses = [
      await send('POST', '/api/athletes', JSON.stringify({ name: SECRET.repeat(20) })),
      await send('POST', '/api/athletes', JSON.stringify({ name: SECRET, note: SECRET })),
      await send('POST', '/api/athletes', JSON.stringify({ [SECRET]: 1 })),
      await send('POST', '/api/athletes', `{"name":"${SECRET}`),
      await send('POST', '/api/athletes', SECRET, { 'content-type': SECRET.toLowerCase() }),
      await send('POST', '/api/athletes', JSON.stringify({ name: `${SECRET}\0` })),
      await send('POST', '/api/athletes', JSON.stringify({ name: SECRET + 'x'.repeat(70_000) })),
      await send('GET', `/api/athletes/${SECRET}/trials`),
      await send('GET', `/api/trials/${SECRET}`),
      await send('PUT', `/api/sensors/%20${SECRET}`, JSON.stringify({ athleteId: SECRET, place: SECRET })),
      await send('POST', '/api/sessions', JSON.stringify({ athleteId: SECRET })),
      await send('GET', `/api/nothing/${SECRET}?name=${SECRET}`),
      await send('GET', `/${SECRET}`, undefined, { 'user-agent': SECRET, referer: SECRET, cookie: SECRET }),
      await send('DELETE', `/api/athletes/${SECRET}?reason=${SECRET}`),
    ];
    expect(statuses.every((status) => status >= 400)).toBe(true);
    for (const path of [`/live?athlete=${SECRET}`, `/${SECRET}`, `/ingest?name=${SECRET}`]) {
      const socket = new WebSocket(api.socketUrl + path);
      socket.on('error', () => undefined);
      socket.on('open', () => socket.send(SECRET));
      await new Promise((resolve) => socket.on('close', resolve));
    }
    expect(api.log.length).toBeGreaterThan(statuses.length);
    expect(api.log.join('')).not.toMatch(new RegExp(SECRET, 'i'));
  });

  test('says why a request failed that the database refused, without the row', async () => {
    const refused = await startTestApp(database);
    await database.sql`alter table athletes add constraint short_names check (length(name) < 5) not valid`;
    try {
      const body = JSON.stringify({ name: SECRET });
      const headers = { 'content-type': 'application/json' };
      expect((await fetch(`${refused.url}/api/athletes`, { method: 'POST', headers, body })).status).toBe(500);
      const text = refused.log.join('');
      expect(text).toContain('"code":"23514"');
      expect(text).toContain('"constraint":"short_names"');
      expect(text).not.toContain(SECRET);
    } finally {
      await database.sql`alter table athletes drop constraint short_names`;
      await refused.close();
    }
  });
});

describe('what is logged of an error of PostgreSQL', () => {
  const thrownBy = async (run: (sql: postgres.Sql) => Promise<unknown>): Promise<unknown> =>
    run(database.sql).then(
      () => null,
      (error: unknown) => error,
    );

  test.each([
    ['a value of the wrong type', (sql: postgres.Sql) => sql`select ${SECRET}::text::uuid`, '22P02'],
    [
      'a row that is there already',
      async (sql: postgres.Sql) => {
        await sql`insert into sensors (device_id) values (${SECRET}) on conflict do nothing`;
        await sql`insert into sensors (device_id) values (${SECRET})`;
      },
      '23505',
    ],
    ['an empty field', (sql: postgres.Sql) => sql`insert into athletes (name) values (${SECRET})`, '23502'],
  ])('for %s has its code, and not the value', async (_what, run, code) => {
    const error = await thrownBy(run as (sql: postgres.Sql) => Promise<unknown>);
    expect(error).toBeInstanceOf(postgres.PostgresError);
    // It is in there: what is tested is that it does not come out.
    expect(JSON.stringify({ ...(error as Error), message: (error as Error).message })).toContain(SECRET);
    const told = describeError(error);
    expect(told).toMatchObject({ type: 'PostgresError', code });
    expect(JSON.stringify(told)).not.toContain(SECRET);
  });

  test('keeps message and place of any other error', () => {
    expect(describeError(new TypeError('x is not a function'))).toMatchObject({
      type: 'TypeError',
      message: 'x is not a function',
      stack: expect.stringContaining('logs.test.ts'),
    });
    expect(describeError(SECRET)).toEqual({ message: 'string' });
  });
});
