/** What was stored comes back, row for row, whatever goes on meanwhile. */
import { readdir, readFile, stat } from 'node:fs/promises';
import { setImmediate as turn } from 'node:timers/promises';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { backUp } from '../../server/src/backup/back-up.ts';
import { restore } from '../../server/src/backup/restore.ts';
import { applyMigrations, listMigrations, tablesAfter } from '../../server/src/store/migration-list.ts';
import { migrateDatabase } from '../../server/src/store/database.ts';
import { createRawLog } from '../../server/src/store/raw-batches.ts';
import { startLeadIn } from '../../server/src/store/sessions.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { allRows, fillStore, makeBare, makeFolder, tableNames, tableShapes, using } from './backup-fixture.ts';

const EXTERNAL = process.env['DATABASE_URL'];
const WHERE = 'the test database';

describe.each([
  { name: 'the embedded PostgreSQL', url: undefined, run: true },
  {
    name: `the PostgreSQL of DATABASE_URL${EXTERNAL ? '' : ' (not run: DATABASE_URL is not set)'}`,
    url: EXTERNAL,
    run: Boolean(EXTERNAL),
  },
])('a backup of $name', ({ url: serverUrl, run }) => {
  let server: TestPostgres;
  let dir: Awaited<ReturnType<typeof makeFolder>>;
  let source: string;
  beforeAll(async () => {
    if (!run) return;
    dir = await makeFolder();
    server = await startTestPostgres(serverUrl);
    source = await server.newUrl();
    await using(source, fillStore);
    await backUp(source, dir.file('full'));
  });
  afterAll(async () => {
    await server?.stop();
    await dir?.remove();
  });

  test.skipIf(!run)('restored is the same in every row of every table', async () => {
    const target = await server.newUrl();
    const summary = await restore(target, dir.file('full'), WHERE);
    const before = await using(source, allRows);
    expect(Object.values(before).every((rows) => rows.length > 0)).toBe(true);
    expect(await using(target, allRows)).toEqual(before);
    expect(summary.rows).toEqual(Object.fromEntries(Object.entries(before).map(([name, rows]) => [name, rows.length])));
  });

  test.skipIf(!run)(
    'fits a database in which no server has started, and makes the tables that a start makes',
    async () => {
      const [target, fresh] = [await server.newUrl(), await server.newUrl()];
      await makeBare(target);
      await restore(target, dir.file('full'), WHERE);
      expect(await using(target, allRows)).toEqual(await using(source, allRows));
      await migrateDatabase(target);
      expect(await using(target, tableShapes)).toEqual(await using(fresh, tableShapes));
    },
  );

  test.skipIf(!run)('leaves a database that can be written to', async () => {
    const target = await server.newUrl();
    await restore(target, dir.file('full'), WHERE);
    await using(target, async (database) => {
      const [session] = await database.sql`select id from sessions limit 1`;
      // Its number comes from a sequence, and must not be one that is taken.
      await startLeadIn(database.db, session!['id'], 'forward_bow', 2000);
      const log = createRawLog(database);
      const next = (await log.streamEnd('pelvis-0', makeRawBatch().bootId))!.nextSequence;
      await log.append([makeRawBatch({ deviceId: 'pelvis-0', firstSequence: next })]);
    });
  });

  test.skipIf(!run)('is one picture of all tables while somebody writes', async () => {
    const busy = await server.newUrl();
    await using(busy, async (database) => {
      await fillStore(database);
      const { sql } = database;
      // Enough to read that the writer gets many turns.
      for (let k = 0; k < 20; k++) {
        await createRawLog(database).append(
          Array.from({ length: 1000 }, (_, i) => makeRawBatch({ deviceId: `bulk-${k}`, firstSequence: i * 8 })),
        );
      }
      let commits = 0;
      let over = false;
      const writer = (async () => {
        while (!over) {
          // One transaction: in the first table of an archive and in one after the largest, or in neither.
          await sql.begin(async (tx) => {
            await tx`insert into athletes (name, created_utc_ms) values (${`written ${commits}`}, 0)`;
            await tx`insert into stances (trial_id, id, revision, side, gait, initial_contact_s, toe_off_s, side_posterior)
              select id, ${1000 + commits}, 0, 'left', 'run', 1, 2, 1 from trials where state = 'final' order by id limit 1`;
          });
          commits += 1;
          await turn();
        }
      })();
      while (commits < 3) await turn();
      const atStart = commits;
      await backUp(busy, dir.file('busy'));
      const atEnd = commits;
      over = true;
      await writer;
      expect(atEnd - atStart).toBeGreaterThan(5);
      const target = await server.newUrl();
      await restore(target, dir.file('busy'), WHERE);
      const rows = await using(target, allRows);
      const athletes = rows['athletes']!.filter((row) => row.includes('written')).length;
      const stances = rows['stances']!.filter((row) => Number(row.split(',')[1]) >= 1000).length;
      expect(stances).toBe(athletes);
      expect(athletes).toBeGreaterThanOrEqual(atStart);
      expect(athletes).toBeLessThan(atEnd);
    });
  });

  test.skipIf(!run)('of an older version is restored and brought up to this one', async () => {
    const old = await server.newUrl();
    for (const [k, migration] of listMigrations().entries()) {
      await makeBare(old);
      await using(old, ({ sql }) =>
        sql.begin(async (tx) => {
          await applyMigrations(tx, listMigrations().slice(0, 1));
          await tx.unsafe(OLD_ROWS);
          await applyMigrations(tx, listMigrations().slice(1, k + 1));
        }),
      );
      const archive = dir.file(migration.tag);
      await backUp(old, archive);
      const target = await server.newUrl();
      await restore(target, archive, WHERE);
      await migrateDatabase(old);
      const expected = await using(old, allRows);
      expect(expected['stances']).toHaveLength(1);
      expect(await using(target, allRows)).toEqual(expected);
    }
  });

  test.skipIf(!run)('is not restored over data, and says what to do', async () => {
    const target = await server.newUrl();
    await using(target, ({ sql }) => sql`insert into sensors (device_id) values ('a-sensor')`);
    const before = await using(target, allRows);
    await expect(restore(target, dir.file('full'), WHERE)).rejects.toThrow(
      /There is data in the table sensors in the test database.*a new DATA_DIR, or a new database/,
    );
    expect(await using(target, allRows)).toEqual(before);
  });

  test.skipIf(!run)('is not restored beside a table of somebody else under the same name', async () => {
    const target = await server.newUrl();
    await makeBare(target);
    await using(target, ({ sql }) => sql`create table trials (verdict text)`);
    await expect(restore(target, dir.file('full'), WHERE)).rejects.toThrow(/a table trials that is not Ambipede's/);
    expect(await tableNames(target)).toEqual(['trials']);
  });

  test.skipIf(!run)('is for its owner alone and never half there', async () => {
    expect((await stat(dir.file('full'))).mode & 0o777).toBe(0o600);
    const before = await readFile(dir.file('full'));
    await expect(backUp(source, dir.file('full'))).rejects.toThrow(/is there already/);
    expect(await readFile(dir.file('full'))).toEqual(before);
    await expect(backUp(source, dir.file('none/such'))).rejects.toThrow(/could not be written to .*none\/such/);
    const signal = AbortSignal.abort();
    await expect(backUp(source, dir.file('stopped'), signal)).rejects.toThrow();
    expect((await readdir(dir.folder)).filter((name) => /stopped|unfinished/.test(name))).toEqual([]);
  });

  test.skipIf(!run)('is refused where there is nothing of ours, or something newer', async () => {
    const other = await server.newUrl();
    await makeBare(other);
    await expect(backUp(other, dir.file('other'))).rejects.toThrow(/has no tables of Ambipede/);
    await migrateDatabase(other);
    await using(other, ({ sql }) => sql`update drizzle.__drizzle_migrations set created_at = created_at + 1`);
    await expect(backUp(other, dir.file('other'))).rejects.toThrow(/another version of Ambipede/);
  });

  test.skipIf(!run)('can be read with gzip and eyes', async () => {
    const lines = gunzipSync(await readFile(dir.file('full')))
      .toString('utf8')
      .split('\n');
    expect(JSON.parse(lines[0]!)).toMatchObject({ format: 'ambipede-backup', migration: listMigrations().at(-1)!.tag });
    const tables = lines.filter((line) => line.startsWith('{"table"')).map((line) => JSON.parse(line).table as string);
    expect(tables).toEqual(tablesAfter(listMigrations().at(-1)!).map((table) => table.name));
    expect(lines.filter((line) => line === '\\.')).toHaveLength(tables.length);
  });
});

describe('the tables that a backup holds', () => {
  test('come after those that they refer to', () => {
    const order = tablesAfter(listMigrations().at(-1)!).map(({ name }) => name);
    const after = (a: string, b: string): boolean => order.indexOf(a) > order.indexOf(b);
    expect(after('sessions', 'athletes') && after('trials', 'sessions') && after('stances', 'trials')).toBe(true);
    expect(after('raw_batches', 'athletes')).toBe(true);
  });
});

const [A, S, T] = ['1', '2', '3'].map((n) => `00000000-0000-4000-8000-00000000000${n}`);
/** As a first version could have written them. */
const OLD_ROWS = `
  insert into athletes values ('${A}', 'Early athlete', 1);
  insert into sensors values ('old-pelvis', '${A}', 'pelvis', 2);
  insert into sessions values ('${S}', '${A}', 3, 4);
  insert into session_sensors values ('${S}', 'pelvis', 'old-pelvis');
  insert into lead_in_marks (session_id, step, start_utc_ms) values ('${S}', 'reference_stand', 5);
  insert into mountings values ('${S}', 'pelvis', 'none', null, null, '[]', '{}');
  insert into trials values ('${T}', '${S}', 'run', 'final', 6, 7, 'old', null, true, '{"gaps":0}');
  insert into trial_metrics values ('${T}', 'contactTimeS', 1, 0.2, null, 1, 0.3, null, 0.1, null, null, 0, 0, 'cannot tell', 0.5);
  insert into stances values ('${T}', 1, 1, 'left', 'run', 0.1, 0.3, 0.99, 0.2);
  insert into raw_batches values ('old-pelvis', 1, 0, 1, 0, 5000, 1, 6, 0.1, 0.2, 3, '\\x000102030405060708090a0b', '${A}');`;
