/** An athlete is erased everywhere, and nobody else is touched. Regulation (EU) 2016/679, article 17. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import WebSocket from 'ws';
import type { ApiError, Erasure } from '../../shared/src/index.ts';
import { LIVE_CLOSE } from '../../shared/src/index.ts';
import { erasedListInMemory } from '../../server/src/erased-list.ts';
import { backUp } from '../../server/src/backup/back-up.ts';
import { restore } from '../../server/src/backup/restore.ts';
import { createRawLog } from '../../server/src/store/raw-batches.ts';
import { connect, type Database } from '../../server/src/store/database.ts';
import { allRows, fillStore, makeFolder } from '../integration/backup-fixture.ts';
import { Person, newAthleteOf, newPerson } from '../support/people.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';

/** Of `fillStore`, which writes two rows or more of everything for each of four athletes. */
const NAME = '\\.';
const DEVICE = 'pelvis-1';
/** What stays on purpose: who did what, by id; and how far a run had come, as the id of a trial that leads nowhere. */
const KEPT = ['audit', 're_analysis_runs'];

let server: TestPostgres;
let url: string;
let database: Database;
let dir: Awaited<ReturnType<typeof makeFolder>>;
let api: TestApp;
let keeper: Person;
const erasedList = erasedListInMemory();

beforeAll(async () => {
  server = await startTestPostgres();
  url = await server.newUrl();
  database = connect(url);
  dir = await makeFolder();
  await fillStore(database);
  // The samples of before the sensor was placed are nobody's, within a session of the athlete.
  const early = Array.from({ length: 30 }, (_, i) =>
    makeRawBatch({ deviceId: DEVICE, bootId: 7, firstSequence: i * 8, firstUtcMs: 600 + i, endUtcMs: 601 + i }),
  );
  await createRawLog(database).append(early);
  await database.sql`update raw_batches set athlete_id = null where device_id = ${DEVICE} and boot_id = 7`;
  await database.sql`update retention set months = null`;
  api = await startTestApp(database, { access: WITH_ACCOUNTS, erasedList });
  keeper = await newPerson({ database, url: api.url }, ['keeper']);
});
afterAll(async () => {
  await api?.close();
  await database?.close();
  await server?.stop();
  await dir?.remove();
});

const idOf = async (name: string): Promise<string> =>
  String((await database.sql`select id from athletes where name = ${name}`)[0]?.['id']);
/** Ids of the athlete and of everything that hangs on them. */
async function idsOf(athleteId: string): Promise<string[]> {
  const rows = await database.sql`
    select ${athleteId}::uuid as id
    union all select id from sessions where athlete_id = ${athleteId}
    union all select trials.id from trials join sessions on sessions.id = session_id where athlete_id = ${athleteId}
    union all select id from return_episodes where athlete_id = ${athleteId}
    union all select id from annotations where athlete_id = ${athleteId}
    union all select id from accounts where athlete_id = ${athleteId}`;
  return rows.map(({ id }) => String(id));
}
const otherIds = async (id: string): Promise<string[]> =>
  (await database.sql`select id from athletes where id <> ${id}`).map((row) => String(row['id']));
const erase = (who: Person, id: string, name: string) =>
  who.ask<Erasure & ApiError>('DELETE', `/api/athletes/${id}`, { name });

describe('erasing an athlete', () => {
  test('is for a keeper who types the name, and not while a session is open', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const id = await newAthleteOf(coach, 'Mira');
    expect((await erase(coach, id, 'Mira')).status).toBe(403);
    const wrong = await erase(keeper, id, 'mira');
    expect([wrong.status, wrong.body.error.code]).toEqual([409, 'wrong-name']);
    const session = await coach.call<{ id: string }>('POST', '/api/sessions', { athleteId: id });
    const open = await erase(keeper, id, 'Mira');
    expect([open.status, open.body.error.code]).toEqual([409, 'session-running']);
    await coach.call('POST', `/api/sessions/${session.id}/end`);
    expect(await erasedList.all()).not.toContain(id);
    const done = await erase(keeper, id, ' Mira ');
    expect(done.body.erased).toMatchObject({ athletes: 1, sessions: 1, consents: 1, samples: 0 });
    expect((await erase(keeper, id, 'Mira')).status).toBe(404);
  });

  test('closes the feed of whoever looks, and frees the sensors', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const id = await newAthleteOf(coach, 'Runa');
    await coach.call('PUT', '/api/sensors/runa-pelvis', { athleteId: id, place: 'pelvis' });
    const socket = new WebSocket(`${api.socketUrl}/live?athlete=${id}`, {
      headers: { cookie: coach.cookie, origin: api.url },
    });
    await new Promise((resolve) => socket.once('message', resolve));
    const closed = new Promise<number>((resolve) => socket.once('close', resolve));
    await erase(keeper, id, 'Runa');
    expect(await closed).toBe(LIVE_CLOSE.notAllowed);
    const sensors = await coach.call<{ deviceId: string; athleteId: string | null }[]>('GET', '/api/sensors');
    expect(sensors.find(({ deviceId }) => deviceId === 'runa-pelvis')?.athleteId).toBeNull();
  });

  test('leaves nothing of them in any table but the audit, counts it, and changes no row of anybody else', async () => {
    const id = await idOf(NAME);
    const ids = await idsOf(id);
    const others = (await Promise.all((await otherIds(id)).map(idsOf))).flat();
    expect(others.length).toBeGreaterThan(18);
    expect(ids.length).toBeGreaterThan(6);
    await backUp(url, dir.file('before'));
    const before = await allRows(database);
    const { status, body } = await erase(keeper, id, NAME);
    expect(status).toBe(200);
    expect(body.erased).toEqual({
      ...{ athletes: 1, sessions: 1, trials: 2, stances: 40, annotations: 2, 'return episodes': 1 },
      ...{ 'return decisions': 1, consents: 1, accounts: 1, samples: (50 + 30) * 8 },
    });
    expect(body.remains.join(' ')).toMatch(/audit.*Backups/is);
    const after = await allRows(database);
    for (const [table, rows] of Object.entries(after)) {
      if (KEPT.includes(table)) continue;
      expect([table, rows.filter((row) => ids.some((each) => row.includes(each)))]).toEqual([table, []]);
      const ofOthers = before[table]!.filter((row) => others.some((each) => row.includes(each)));
      expect([table, ofOthers.filter((row) => !rows.includes(row))]).toEqual([table, []]);
    }
    const samplesOf = (rows: string[], device: string) => rows.filter((row) => row.includes(device)).length;
    for (const device of ['pelvis-0', 'pelvis-2', 'pelvis-3', 'worn-by-nobody'])
      expect(samplesOf(after['raw_batches']!, device)).toBe(samplesOf(before['raw_batches']!, device));
    expect(after['raw_batches']!.some((row) => row.includes(DEVICE))).toBe(false);
    expect(after['audit']!.some((row) => row.includes(id) && row.includes('DELETE /api/athletes/:id'))).toBe(true);
    expect(after['audit']!.join()).not.toContain(NAME);
  });

  test('holds against a backup from before: whom it brings back the next start erases', async () => {
    const [id] = await erasedList.all().then((all) => all.slice(-1));
    const restoredUrl = await server.newUrl();
    await restore(restoredUrl, dir.file('before'), 'the test database');
    const again = connect(restoredUrl);
    await again.sql`update retention set months = null`;
    expect(await again.sql`select from athletes where id = ${id!}`).toHaveLength(1);
    const restarted = await startTestApp(again, { access: WITH_ACCOUNTS, erasedList });
    expect(await again.sql`select from athletes where id = ${id!}`).toHaveLength(0);
    expect(await again.sql`select from raw_batches where device_id = ${DEVICE}`).toHaveLength(0);
    expect(restarted.log.join('')).toContain('erased 1 athletes again');
    await restarted.close();
    await again.close();
  });
});
