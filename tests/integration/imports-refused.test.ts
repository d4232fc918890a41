/** Imports that are not taken: a sentence that says what to do, and nothing is left in the store. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleAthlete, ideal, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { ApiError, AthleteSummary, CsvImport } from '../../shared/src/index.ts';
import { tarOf } from '../../server/src/exchange/tar.ts';
import type { Database } from '../../server/src/store/database.ts';
import { COMMAS_MAPPING, csvOf } from '../support/csv-of.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';

const movement = simulateSession({
  seed: 4,
  athlete: exampleAthlete(4),
  script: [
    { kind: 'reference_stand', seconds: 3 },
    { kind: 'walk', seconds: 5, cadencePerMin: 110 },
  ],
  sensors: { pelvis: ideal('pelvis', { rateHz: 100 }) },
});
const TEXT = csvOf(movement.streams.pelvis);
const UNKNOWN_ID = '00000000-0000-4000-8000-000000000000';

let server: TestPostgres;
let database: Database;
let api: TestApp;
let athleteId: string;

beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  api = await startTestApp(database);
  ({ id: athleteId } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Rika Refused' }));
}, 120_000);
afterAll(async () => {
  await api?.close();
  await server?.stop();
});

const sensor = (change: Partial<CsvImport['sensors'][number]> = {}): CsvImport['sensors'][number] => ({
  ...{ place: 'pelvis', fileName: 'walk.csv', text: TEXT, mapping: COMMAS_MAPPING },
  ...change,
});
const asked = (change: Partial<CsvImport> = {}): CsvImport => ({
  ...{ task: 'walk', startedUtcMs: Date.now() - 3_600_000, sensors: [sensor()] },
  ...change,
});
const csv = (body: unknown, status: number, id = athleteId): Promise<ApiError> =>
  api.call<ApiError>('POST', `/api/athletes/${id}/imports/csv`, body, status);
async function tar(
  pieces: Uint8Array[],
  query = '',
  type = 'application/x-tar',
): Promise<{ status: number; message: string }> {
  const response = await fetch(`${api.url}/api/athletes/${athleteId}/imports/motion-bids${query}`, {
    method: 'POST',
    headers: { 'content-type': type },
    body: Buffer.concat(pieces),
  });
  return { status: response.status, message: ((await response.json()) as ApiError).error.message };
}
const rowsStored = async (): Promise<unknown> => {
  const [counts] = await database.sql`
    select (select count(*)::int from raw_batches) as batches, (select count(*)::int from sessions) as sessions`;
  return counts;
};

describe('a table of values', () => {
  const mapped = (change: Partial<typeof COMMAS_MAPPING>) =>
    asked({ sensors: [sensor({ mapping: { ...COMMAS_MAPPING, ...change } })] });
  test.each<[string, () => CsvImport, RegExp]>([
    [
      'in a unit that it is not in',
      () => mapped({ accel: { columns: [1, 2, 3], unit: 'm/s2' } }),
      /Pelvis sensor.*is 0\.1\d* g.*Check the unit/,
    ],
    [
      'with rates for accelerations',
      () => mapped({ accel: { columns: [4, 5, 6], unit: 'g' }, gyro: { columns: [1, 2, 3], unit: 'deg/s' } }),
      /columns are not those of the rates/,
    ],
    [
      'with rad/s said to be deg/s the wrong way round',
      () => mapped({ gyro: { columns: [4, 5, 6], unit: 'rad/s' } }),
      /faster than a trunk turns/,
    ],
    [
      'without a sensor at the pelvis',
      () => asked({ sensors: [sensor({ place: 'sternum' })] }),
      /No sensor is at the pelvis/,
    ],
    ['with two sensors at one place', () => asked({ sensors: [sensor(), sensor()] }), /Two sensors.*pelvis/],
    [
      'without the text of its first sensor',
      () => asked({ sensors: [sensor({ text: null })] }),
      /text of walk\.csv is missing/,
    ],
    [
      'of two seconds',
      () => asked({ sensors: [sensor({ text: TEXT.split('\r\n').slice(0, 200).join('\r\n') })] }),
      /2\.0 s long.*at least 3 s/,
    ],
    [
      'of a header only',
      () => asked({ sensors: [sensor({ text: `${TEXT.split('\r\n')[0]!}\r\n` })] }),
      /no rows of values/,
    ],
    ['that would end in the future', () => asked({ startedUtcMs: Date.now() - 1000 }), /future.*start time/],
    [
      'whose task lies outside',
      () => asked({ marks: [{ kind: 'task', startS: 500, endS: 510 }] }),
      /500 to 510 s.*no sample/,
    ],
    [
      'whose task ends before it starts',
      () => asked({ marks: [{ kind: 'task', startS: 5, endS: 4 }] }),
      /Correct its start and end/,
    ],
  ])('%s is refused', async (_, body, message) => {
    const { error } = await csv(body(), 400);
    expect(error.code).toBe('unreadable-recording');
    expect(error.message).toMatch(message);
  });

  test('that is not as the schema says is refused in words, as on any other route', async () => {
    expect((await csv({ ...asked(), task: 'swim' }, 400)).error.message).toMatch(/task must be one of stand, /);
    expect((await csv({ ...asked(), extra: 1 }, 400)).error.message).toMatch(/must not have extra/);
    expect((await csv(mapped({ time: { rateHz: 5 } }), 400)).error.code).toBe('invalid-request');
    expect((await csv(asked(), 404, UNKNOWN_ID)).error.message).toMatch(/no such athlete/);
    const broken = await fetch(`${api.url}/api/athletes/${athleteId}/imports/csv`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: '{"task":',
    });
    expect([broken.status, await broken.text()]).toEqual([400, expect.stringMatching(/not JSON/)]);
  });

  test('shows in the preview what it holds, and in words why not', async () => {
    const preview = await api.call(
      'POST',
      '/api/import/preview',
      { name: 'walk.csv', text: TEXT.slice(0, 20_000) },
      200,
    );
    expect(preview).toMatchObject({
      format: { delimiter: ';', decimal: ',', firstLine: 2 },
      problems: [],
      rateHz: 100,
    });
    const refusal = await api.call<ApiError>('POST', '/api/import/preview', { name: 'x', text: 'nothing' }, 400);
    expect(refusal.error.message).toMatch(/does not look like a table/);
    await api.call('POST', '/api/import/preview', { name: 'x', text: 'x'.repeat(70_000) }, 400);
  });
});

describe('an archive', () => {
  const file = (path: string, text: string) => ({ path, parts: [Buffer.from(text)] });
  test.each<[string, Uint8Array[], RegExp]>([
    ['without a recording', tarOf([file('a/readme', 'x')], 1), /No \*_tracksys/],
    ['with a channel of an unknown unit', tarOf(recording({ unit: 'furlong' }), 1), /unit "furlong" is not known/],
    ['with one row too short', tarOf(recording({ row: '0\t1\n' }), 1), /line 1 has 2 columns/],
    ['of a task that is not known', tarOf(recording({}), 1), /task "juggling" is not known/],
    ['that does not say when it was', tarOf(recording({ task: 'walk' }), 1), /does not say when/],
    ['that is cut short', [Buffer.concat(tarOf(recording({}), 1)).subarray(0, 700)], /cut short/],
  ])('%s is refused', async (_, pieces, message) => {
    expect(await tar(pieces)).toEqual({ status: 400, message: expect.stringMatching(message) });
  });

  test('of another type, or of nothing, is refused', async () => {
    expect((await tar([Buffer.from('{}')], '', 'application/json')).status).toBe(415);
    expect((await tar([], '')).status).toBe(400);
    expect((await tar(tarOf(recording({}), 1), '?task=swim')).status).toBe(400);
  });

  function recording({ unit = 'g', row = '', task = 'juggling' }) {
    const axes = ['x', 'y', 'z'];
    const channels = [
      ...axes.map((axis) => `a${axis}\t${axis}\tACCEL\tPelvis\t${unit}`),
      ...axes.map((axis) => `g${axis}\t${axis}\tGYRO\tPelvis\tdeg/s`),
    ];
    const stem = 'rec/sub-1_task-any_tracksys-imu_';
    return [
      file(`${stem}motion.tsv`, row + '0\t1\t0\t0\t0\t1\n'.repeat(500)),
      file(`${stem}motion.json`, JSON.stringify({ TaskName: task, SamplingFrequency: 100 })),
      file(`${stem}channels.tsv`, `${['name\tcomponent\ttype\ttracked_point\tunits', ...channels].join('\n')}\n`),
    ];
  }
});

describe('of an import that is refused, or that the store fails in the middle of,', () => {
  test('nothing is stored', async () => {
    expect(await rowsStored()).toEqual({ batches: 0, sessions: 0 });
  });

  test('the raw samples go again when the session cannot be stored', async () => {
    await database.sql`alter table sessions add constraint no_imports check (imported_from is null)`;
    await csv(asked(), 500);
    expect(await rowsStored()).toEqual({ batches: 0, sessions: 0 });
    await database.sql`alter table sessions drop constraint no_imports`;
  });

  test('what a server that ended in between has left goes with the next import of the athlete; the rest stays', async () => {
    await api.call('POST', `/api/athletes/${athleteId}/imports/csv`, asked(), 201);
    const before = await rowsStored();
    await database.sql`
      insert into raw_batches (device_id, boot_id, first_sequence, count, first_tick_us, interval_us, first_utc_ms, end_utc_ms,
        accel_scale, gyro_scale, crc32c, payload, athlete_id)
      select replace(device_id, 'import:', device), 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, '', athlete_id
      from (select * from raw_batches limit 1) as any_row, unnest(array['import:left-', 'a-device-']) as device`;
    await api.call(
      'POST',
      `/api/athletes/${athleteId}/imports/csv`,
      asked({ startedUtcMs: Date.now() - 7_200_000 }),
      201,
    );
    const left =
      await database.sql`select device_id from raw_batches where device_id like '%left-%' or device_id like 'a-device-%'`;
    expect(left).toHaveLength(1);
    expect(left[0]!['device_id']).toMatch(/^a-device-/);
    expect(before).toMatchObject({ sessions: 1 });
  });

  test('erasing the athlete erases what was imported', async () => {
    await database.sql`delete from athletes where id = ${athleteId}`;
    expect(await rowsStored()).toEqual({ batches: 0, sessions: 0 });
  });
});
