/** Somebody wants to have looked without a trace. Regulation (EU) 2016/679, article 5 (2); OWASP ASVS 4.0.3, 7.2.2, 7.3.3 and 8.3.5. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { AuditEntry } from '../../shared/src/index.ts';
import { SAME_READ_MS } from '../../server/src/access/audit-log.ts';
import type { Database } from '../../server/src/store/database.ts';
import { PASSWORD, Person, newAthleteOf, newPerson } from '../support/people.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';

const NAME = 'Signe Unlikely';

let server: TestPostgres;
let database: Database;
let api: TestApp;
let nowMs = Date.now();
let coach: Awaited<ReturnType<typeof newPerson>>;
let keeper: typeof coach;
let athleteId: string;
beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  api = await startTestApp(database, { access: WITH_ACCOUNTS, nowUtcMs: () => nowMs });
  coach = await newPerson({ database, url: api.url }, ['coach']);
  keeper = await newPerson({ database, url: api.url }, ['keeper']);
  athleteId = await newAthleteOf(coach, NAME);
});
afterAll(async () => {
  await api?.close();
  await server?.stop();
});

const entries = async (action: string): Promise<AuditEntry[]> =>
  (await keeper.call<AuditEntry[]>('GET', '/api/audit')).filter((entry) => entry.action === action);

test('an entry can be neither changed nor removed, whoever asks the database', async () => {
  const { sql } = database;
  await expect(sql`update audit set account_id = null`).rejects.toThrow('only added to');
  await expect(sql`delete from audit`).rejects.toThrow('only added to');
  await expect(sql`truncate audit`).rejects.toThrow('only added to');
  const routes = api.app.accessRules().filter(({ url }) => url.startsWith('/api/audit'));
  expect(routes.map(({ method }) => method).sort()).toEqual(['GET', 'HEAD']);
});

test('a read is an entry, the same within the time is none, and a refused one is', async () => {
  const trials = 'GET /api/athletes/:id/trials';
  const read = (who: Person) => who.ask('GET', `/api/athletes/${athleteId}/trials`);
  for (let i = 0; i < 3; i += 1) await read(coach);
  const other = await newPerson({ database, url: api.url }, ['physio']);
  await read(other);
  nowMs += SAME_READ_MS;
  await read(coach);
  const found = (await entries(trials)).map((entry) => [entry.accountId, entry.athleteId, entry.refusedStatus]);
  const seen = [coach.account.id, athleteId, null];
  expect(found).toEqual([seen, [other.account.id, athleteId, 404], seen]);
});

test('every change is an entry, and so is every failed sign-in', async () => {
  const before = await entries('sign-in');
  for (const login of [coach.account.login, 'nobody', PASSWORD]) await new Person(api.url).signIn(login, 'not it');
  const failed = (await entries('sign-in')).slice(0, -before.length);
  expect(failed.map(({ accountId, refusedStatus }) => [accountId, refusedStatus])).toEqual(Array(3).fill([null, 401]));
  for (const notes of ['a', 'b']) await coach.call('PATCH', `/api/athletes/${athleteId}`, { notes });
  expect(await entries('PATCH /api/athletes/:id')).toHaveLength(2);
});

test('holds no name, login, password or cookie', async () => {
  const rows = (await database.sql`select a::text as line from audit a`).map(({ line }) => String(line)).join('\n');
  expect(rows).toContain(athleteId);
  for (const secret of ['Signe', 'Person', coach.account.login, PASSWORD, 'not it', coach.cookie.split('=')[1]!])
    expect(rows).not.toContain(secret);
});

test('what cannot be written down is not shown and not done', async () => {
  await database.sql`alter table audit rename to audit_away`;
  try {
    nowMs += SAME_READ_MS;
    const read = await coach.ask('GET', `/api/athletes/${athleteId}/trials`);
    const changed = await coach.ask('PATCH', `/api/athletes/${athleteId}`, { notes: 'without a trace' });
    expect([read.status, changed.status]).toEqual([500, 500]);
    expect(await database.sql`select from athletes where notes = 'without a trace'`).toHaveLength(0);
  } finally {
    await database.sql`alter table audit_away rename to audit`;
  }
});
