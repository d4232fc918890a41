/** All that is stored about an athlete, in one archive that any tar reads. Regulation (EU) 2016/679, articles 15 and 20. */
import { execFile } from 'node:child_process';
import { readFile, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { CAUTIONS, type Consent } from '../../shared/src/index.ts';
import { decodePayload } from '../../server/src/ingest/raw-samples.ts';
import type { Database } from '../../server/src/store/database.ts';
import { AWKWARD_NAME, fillStore, makeFolder } from '../integration/backup-fixture.ts';
import { Person, newPerson } from '../support/people.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const run = promisify(execFile);

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

let dir: Awaited<ReturnType<typeof makeFolder>>;
let athleteId: string;
let otherId: string;
let folder: string;
let names: string[];
const inFolder = (name: string) => readFile(path.join(folder, name), 'utf8');
const jsonIn = async <T>(name: string): Promise<T> => JSON.parse(await inFolder(name)) as T;

const download = (who: Person) =>
  fetch(`${api.url}/api/athletes/${athleteId}/export/everything.tar`, { headers: { cookie: who.cookie } });

beforeAll(async () => {
  await fillStore(database);
  const idOf = async (name: string) =>
    String((await database.sql`select id from athletes where name = ${name}`)[0]?.['id']);
  [athleteId, otherId] = [await idOf(AWKWARD_NAME), await idOf(' ')];
  dir = await makeFolder();
  const response = await download(await newPerson({ database, url: api.url }, ['keeper']));
  expect(response.status).toBe(200);
  expect(response.headers.get('content-type')).toBe('application/x-tar');
  const file = dir.file('everything.tar');
  await writeFile(file, new Uint8Array(await response.arrayBuffer()));
  // GNU tar or whatever the machine has: not our own reader.
  const { stdout } = await run('tar', ['-tf', file]);
  names = stdout.trim().split('\n');
  await run('tar', ['-xf', file, '-C', path.dirname(file)]);
  folder = path.join(path.dirname(file), names[0]!.split('/')[0]!);
});
afterAll(() => dir?.remove());

describe('the archive of everything', () => {
  test('is for the athlete and a keeper alone', async () => {
    const suite = { database, url: api.url };
    for (const roles of [['coach'], ['physio']] as const) {
      const carer = await newPerson(suite, [...roles]);
      expect((await download(carer)).status).toBe(404);
      await database.sql`insert into carers values (${athleteId}, ${carer.account.id}, 0)`;
      expect((await download(carer)).status).toBe(403);
    }
    expect((await download(await newPerson(suite, ['athlete'], otherId))).status).toBe(404);
    const own = await download(await newPerson(suite, ['athlete'], athleteId));
    expect(own.status).toBe(200);
    await own.arrayBuffer();
  });

  test('holds a file of each kind, in one folder that says nothing of the person', () => {
    const inside = names.map((name) => name.slice(name.indexOf('/') + 1));
    const kinds = [
      ...[/^README\.txt$/, /^athlete\.json$/, /^consents\.json$/, /^carers\.json$/, /^annotations\.json$/],
      ...[/^return-episodes\.json$/, /^sessions\/.+\.json$/, /^trials\/.+\.json$/, /^trials\/.+-stances\.csv$/],
      ...[/^summaries\.csv$/, /^audit\/0001\.json$/, /^samples\/sensor-pelvis-0\/.+\.csv$/],
    ];
    for (const kind of kinds) expect(inside.filter((name) => kind.test(name)).length).toBeGreaterThan(0);
    expect(inside.filter((name) => !kinds.some((kind) => kind.test(name)))).toEqual([]);
    expect(new Set(names.map((name) => name.split('/')[0])).size).toBe(1);
    expect(names[0]).toMatch(/^athlete-[0-9a-f]{12}\//);
  });

  test('holds every row of the athlete, and none of another', async () => {
    expect(await jsonIn('athlete.json')).toMatchObject({ id: athleteId, name: AWKWARD_NAME });
    expect(await jsonIn<Consent[]>('consents.json')).toMatchObject([{ athleteId, guardianOf: 'mother' }]);
    expect(await jsonIn<unknown[]>('annotations.json')).toHaveLength(2);
    expect(await jsonIn('return-episodes.json')).toMatchObject([
      { athleteId, criteria: [{ metric: 'swingSideDropDeg' }], decisions: [{ decision: 'Easy running.' }] },
    ]);
    const trials = await database.sql`
      select trials.id, state, (select count(*)::int from stances where trial_id = trials.id) as stances
      from trials join sessions on sessions.id = session_id where athlete_id = ${athleteId}`;
    expect(trials).toHaveLength(2);
    for (const { id, state, stances } of trials) {
      const trial = await jsonIn<{ stances: unknown[] }>(`trials/${id}.json`);
      expect(trial).toMatchObject({ id, state });
      expect(trial.stances).toHaveLength(stances as number);
      expect((await inFolder(`trials/${id}-stances.csv`)).trim().split('\r\n')).toHaveLength(1 + (stances as number));
    }
    for (const name of names)
      expect(await readFile(path.join(path.dirname(folder), name), 'utf8')).not.toContain(otherId);
  });

  test('holds every sample as it was measured, in SI units', async () => {
    const file = names.find((name) => name.includes('samples/'))!;
    const [head, ...rows] = (await readFile(path.join(path.dirname(folder), file), 'utf8')).trim().split('\r\n');
    expect(head).toBe('sequence,utc_ms,accel_x_m_s2,accel_y_m_s2,accel_z_m_s2,gyro_x_rad_s,gyro_y_rad_s,gyro_z_rad_s');
    const expected = Array.from({ length: 50 }, (_, i) => decodePayload(makeRawBatch({ firstSequence: i * 8 }))).flat();
    expect(rows).toHaveLength(expected.length);
    for (const [k, row] of rows.entries()) {
      const [sequence, utcMs, ax, ay, az, gx, gy, gz] = row.split(',').map(Number);
      const sample = expected[k]!;
      expect(sequence).toBe(k);
      expect(utcMs).toBeCloseTo(sample.utcMs, 3);
      for (const [found, wanted] of [
        [ax, sample.ax],
        [ay, sample.ay],
        [az, sample.az],
      ] as const)
        expect(found).toBeCloseTo(wanted, 5);
      for (const [found, wanted] of [
        [gx, sample.gx],
        [gy, sample.gy],
        [gz, sample.gz],
      ] as const)
        expect(found).toBeCloseTo(wanted, 5);
    }
  });

  test('says what it holds, with the cautions', async () => {
    const text = await inFolder('README.txt');
    for (const caution of CAUTIONS) expect(text).toContain(caution);
    for (const name of new Set(names.map((each) => each.split('/')[1]!)))
      if (name !== 'README.txt') expect(text).toContain(name);
  });
});
