/** What is handed to other programs, each read by one: the system's tar, the `analyse` command, PostgreSQL. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { METRICS, STANCE_METRIC_KEYS } from '../../shared/src/index.ts';
import type { AnalysisResult, AthleteSummary, TrialView } from '../../shared/src/index.ts';
import { columnOf } from '../../server/src/exchange/stances-csv.ts';
import type { Database } from '../../server/src/store/database.ts';
import { TRIALS_PER_PAGE } from '../../server/src/store/trial-summaries.ts';
import { analyse } from '../cases/analyse/command.ts';
import { ledInSession } from '../support/led-in-session.ts';
import { coachSession, type CoachedSession } from '../support/coached-session.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';

const SEED = 23;
const SPEED = 5;
const UNKNOWN_ID = '00000000-0000-4000-8000-000000000000';

const movement = ledInSession(
  SEED,
  { kind: 'run', seconds: 15, cadencePerMin: 165, speedMps: 3.2 },
  { kind: 'pause', seconds: 4 },
);

let server: TestPostgres;
let database: Database;
let api: TestApp;
let played: CoachedSession;
let trial: TrialView;
const folder = mkdtempSync(join(tmpdir(), 'exports-'));

beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  api = await startTestApp(database, { nowUtcMs: makeFastClock(SPEED).nowUtcMs });
  played = await coachSession(api, movement, {
    speed: SPEED,
    prefix: 'export',
    details: { name: 'Nobody At All', bodyMassKg: 61.3 },
  });
  trial = played.trials[0]!;
}, 120_000);

afterAll(async () => {
  played?.viewer.socket.terminate();
  await api?.close();
  await server?.stop();
  rmSync(folder, { recursive: true });
});

async function fetched(path: string): Promise<{ response: Response; bytes: Buffer }> {
  const response = await fetch(api.url + path);
  return { response, bytes: Buffer.from(await response.arrayBuffer()) };
}

/** Unpacks an export with the system's tar. */
async function unpacked(name: string): Promise<string> {
  const { response, bytes } = await fetched(`/api/trials/${trial.id}/export/motion-bids`);
  expect(response.status).toBe(200);
  expect(response.headers.get('content-type')).toBe('application/x-tar');
  expect(response.headers.get('content-disposition')).toBe(`attachment; filename="run-${trial.id.slice(0, 8)}.tar"`);
  expect(bytes.includes('Nobody')).toBe(false);
  expect(bytes.includes(played.athlete.id)).toBe(false);
  writeFileSync(join(folder, `${name}.tar`), bytes);
  const into = mkdtempSync(join(folder, `${name}-`));
  execFileSync('tar', ['-xf', join(folder, `${name}.tar`), '-C', into], { stdio: 'pipe' });
  return join(into, `run-${trial.id.slice(0, 8)}`);
}

async function analysed(recording: string): Promise<string> {
  const out = join(recording, 'result.json');
  const run = await analyse(recording, '--out', out);
  if (run.exitCode !== 0) throw new Error(run.stderr);
  return readFileSync(out, 'utf8');
}

/** Reads CSV with PostgreSQL's own reader: every cell as text, an empty one as null. */
async function readBack(path: string): Promise<Record<string, string | null>[]> {
  const { response, bytes } = await fetched(path);
  expect(response.headers.get('content-type')).toMatch(/^text\/csv/);
  const head = bytes.toString('utf8').split('\r\n')[0]!.split(',');
  return database.sql.begin(async (sql) => {
    await sql.unsafe(
      `create temporary table cells (${head.map((name) => `"${name}" text`).join(', ')}) on commit drop`,
    );
    await pipeline(Readable.from([bytes]), await sql`copy cells from stdin with (format csv, header)`.writable());
    // Not prepared: each file makes another table of that name, maybe on the same connection.
    return [...(await sql.unsafe<Record<string, string | null>[]>('select * from cells'))];
  });
}

const numberOf = (cell: string | null | undefined): number | null => (cell == null ? null : Number(cell));

describe('the CSV exports, read by PostgreSQL', () => {
  test('hold every stance with every metric, number by number, and empty cells for what is not known', async () => {
    const rows = await readBack(`/api/trials/${trial.id}/export/stances.csv`);
    expect(rows).toHaveLength(trial.stances.length);
    trial.stances.forEach((stance, i) => {
      const row = rows[i]!;
      expect([row['trial_id'], row['task'], row['side'], row['gait']]).toEqual([
        trial.id,
        'run',
        stance.side,
        stance.gait,
      ]);
      expect(numberOf(row['initial_contact_s'])).toBe(stance.initialContact);
      for (const metric of STANCE_METRIC_KEYS) expect(numberOf(row[columnOf(metric)])).toBe(stance[metric]);
    });
    expect(trial.stances.some((stance) => STANCE_METRIC_KEYS.some((metric) => stance[metric] === null))).toBe(true);
  });

  test('hold every difference with its interval, and a note that cannot run as a formula', async () => {
    const note = '=1+1, "so, or so"\nand more';
    await api.call('PATCH', `/api/trials/${trial.id}`, { note });
    const rows = await readBack(`/api/athletes/${played.athlete.id}/export/summaries.csv`);
    const metrics = STANCE_METRIC_KEYS.filter((metric) => trial.asymmetry[metric]);
    expect(rows.map((row) => row['metric'])).toEqual(metrics.map(columnOf));
    metrics.forEach((metric, i) => {
      const row = rows[i]!;
      const { left, difference, ci95, verdict } = trial.asymmetry[metric]!;
      expect(row['note']).toBe(`'${note}`);
      expect([row['unit'], row['verdict']]).toEqual([METRICS[metric].unit, verdict]);
      const numbers = [
        'left_n',
        'left_mean_in_unit',
        'left_minus_right_in_unit',
        'ci95_low_in_unit',
        'ci95_high_in_unit',
      ];
      expect(numbers.map((name) => numberOf(row[name]))).toEqual([
        left.n,
        left.mean,
        difference,
        ci95?.[0] ?? null,
        ci95?.[1] ?? null,
      ]);
    });
  });

  test('hold every trial once, however many there are and whenever they began', async () => {
    const other = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Many Trials' });
    const trialCount = 2 * TRIALS_PER_PAGE + 1;
    await database.sql`
      with session as (
        insert into sessions (athlete_id, started_utc_ms, ended_utc_ms) values (${other.id}, 1, 100) returning id
      ), made as (
        insert into trials (session_id, task, state, started_utc_ms, ended_utc_ms, version)
        select session.id, 'walk', 'final', n / 10, 100, 'v' from session, generate_series(1, ${trialCount}::int) as n returning id
      )
      insert into trial_metrics (trial_id, metric, left_n, right_n, missing_left, missing_right, verdict)
      select id, 'stepTimeS', 0, 0, 7, 7, 'not measured' from made`;
    const rows = await readBack(`/api/athletes/${other.id}/export/summaries.csv`);
    expect(new Set(rows.map((row) => row['trial_id'])).size).toBe(trialCount);
    expect(rows).toHaveLength(trialCount);
    expect(rows[0]!['left_mean_in_unit']).toBeNull();
  });

  test('of what is not there are errors', async () => {
    await api.call('GET', `/api/trials/${UNKNOWN_ID}/export/stances.csv`, undefined, 404);
    await api.call('GET', `/api/athletes/${UNKNOWN_ID}/export/summaries.csv`, undefined, 404);
  });
});

describe('the Motion-BIDS export of a trial', () => {
  let result: AnalysisResult;

  test('is analysed by the command to the same bytes as the trial itself', async () => {
    const text = await analysed(await unpacked('whole'));
    const { bytes } = await fetched(`/api/trials/${trial.id}/result`);
    result = JSON.parse(text) as AnalysisResult;
    expect(text).toBe(bytes.toString('utf8'));
  });

  test('so gives the stances and differences that are stored as final, number by number', () => {
    expect(trial.state).toBe('final');
    expect(trial.stances.length).toBeGreaterThan(20);
    expect(result.stances).toEqual(trial.stances);
    expect(result.asymmetry).toEqual(trial.asymmetry);
    expect(result.asymmetry.peakForceN!.left.mean).toBeGreaterThan(0);
    expect(result.quality).toEqual(trial.quality);
    expect(result.taskSummary).toEqual(trial.taskSummary);
    expect(result.version).toBe(trial.version);
  });

  test('holds lost samples as missing rows, with the same result again', async () => {
    const atUtcMs = (trial.startedUtcMs + trial.endedUtcMs!) / 2;
    const gone = await database.sql`
      delete from raw_batches where device_id = 'export-pelvis' and first_utc_ms <= ${atUtcMs} and end_utc_ms > ${atUtcMs}
      returning count`;
    expect(gone.length).toBe(1);
    const text = await analysed(await unpacked('lost'));
    const { bytes } = await fetched(`/api/trials/${trial.id}/result`);
    expect(text).toBe(bytes.toString('utf8'));
    expect((JSON.parse(text) as AnalysisResult).quality.gaps).toBe(result.quality.gaps + 1);
  });

  test('of a trial that is not there, still runs, or has lost all samples is an error that says what to do', async () => {
    await api.call('GET', `/api/trials/${UNKNOWN_ID}/export/motion-bids`, undefined, 404);
    await api.call('GET', '/api/trials/1/export/motion-bids', undefined, 400);
    const path = `/api/sessions/${played.session.id}/trials`;
    const running = await api.call<TrialView>('POST', path, { task: 'walk' });
    const refusal = await api.call('GET', `/api/trials/${running.id}/export/motion-bids`, undefined, 409);
    expect(refusal).toMatchObject({ error: { code: 'not-final', message: expect.stringMatching(/Stop it/) } });
    await api.call('GET', `/api/trials/${running.id}/export/stances.csv`, undefined, 409);
    await database.sql`delete from raw_batches`;
    const empty = await api.call('GET', `/api/trials/${trial.id}/export/motion-bids`, undefined, 409);
    expect(empty).toMatchObject({ error: { message: expect.stringMatching(/No samples of the pelvis sensor/) } });
  });
});
