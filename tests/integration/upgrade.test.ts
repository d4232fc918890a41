/** The version before this one had no accounts: what it stored is there after the upgrade, and nobody sees it unasked. */
import { readFile } from 'node:fs/promises';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { AthleteSummary, TrialSummary } from '../../shared/src/index.ts';
import { makeFirstKeeper } from '../../server/src/access/first-keeper.ts';
import { connect, migrateDatabase, type Database } from '../../server/src/store/database.ts';
import { applyMigrations, listMigrations } from '../../server/src/store/migration-list.ts';
import { Person, newPerson } from '../support/people.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { makeBare, tableShapes, using } from './backup-fixture.ts';

const BEFORE = '0006_decision-states-imports';
const ROWS = `
  insert into athletes (id, name, created_utc_ms) values ('6c84fb90-12c4-41e1-840d-7b25c5ee775a', 'Ida', 1);
  insert into sensors (device_id, athlete_id, place) values ('pelvis-1', '6c84fb90-12c4-41e1-840d-7b25c5ee775a', 'pelvis');
  insert into sessions (id, athlete_id, started_utc_ms, ended_utc_ms)
    values ('11111111-2222-4333-8444-555555555555', '6c84fb90-12c4-41e1-840d-7b25c5ee775a', 10, 99);
  insert into trials (session_id, task, state, started_utc_ms, ended_utc_ms, version, data_complete)
    values ('11111111-2222-4333-8444-555555555555', 'run', 'final', 20, 60, 'motion-2', true);
  insert into re_analysis_runs (version, state, started_utc_ms, ended_utc_ms, trials_total)
    values ('motion-2', 'done', 70, 80, 1);
`;

let server: TestPostgres;
let dir: Awaited<ReturnType<typeof makeTempDir>>;
let database: Database;
let api: TestApp;
let url: string;
beforeAll(async () => {
  server = await startTestPostgres();
  dir = await makeTempDir();
  url = await server.newUrl();
  await makeBare(url);
  const known = listMigrations();
  const before = known.slice(0, known.findIndex(({ tag }) => tag === BEFORE) + 1);
  await using(url, ({ sql }) =>
    sql.begin(async (tx) => {
      await applyMigrations(tx, before);
      await tx.unsafe(ROWS);
    }),
  );
  await migrateDatabase(url);
  database = connect(url);
  api = await startTestApp(database, { access: WITH_ACCOUNTS });
});
afterAll(async () => {
  await api?.close();
  await database?.close();
  await server?.stop();
  await dir?.remove();
});

describe('after the upgrade from the version without accounts', () => {
  test('the tables are those of a new database', async () => {
    expect(await tableShapes(database)).toEqual(await using(await server.newUrl(), tableShapes));
  });

  test('the first keeper is made, and finds every athlete with what was measured', async () => {
    const file = await makeFirstKeeper(database.db, dir.folder, Date.now());
    const password = (await readFile(file!, 'utf8')).trim();
    const keeper = new Person(api.url);
    expect((await keeper.signIn('keeper', password)).body.passwordIsFirst).toBe(true);
    await keeper.call('POST', '/api/me/password', { password, newPassword: 'another one, of my own' });
    const athletes = await keeper.call<AthleteSummary[]>('GET', '/api/athletes');
    expect(athletes).toMatchObject([{ name: 'Ida', trialCount: 1 }]);
  });

  test('nobody sees them until somebody cares for them and they have consented', async () => {
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const [ida] = await keeper.call<AthleteSummary[]>('GET', '/api/athletes');
    const trials = () => coach.ask<TrialSummary[]>('GET', `/api/athletes/${ida!.id}/trials`);
    expect(await coach.call<AthleteSummary[]>('GET', '/api/athletes')).toEqual([]);
    expect((await trials()).status).toBe(404);
    await keeper.call('PUT', `/api/athletes/${ida!.id}/carers/${coach.account.id}`);
    expect((await trials()).status).toBe(403);
    const consent = { purpose: 'recording', givenByName: 'Ida', guardianOf: null };
    await coach.call('POST', `/api/athletes/${ida!.id}/consents`, consent);
    expect((await trials()).body).toMatchObject([{ task: 'run', version: 'motion-2', state: 'final' }]);
  });
});
