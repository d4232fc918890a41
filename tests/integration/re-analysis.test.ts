/** All stored trials analysed again, on a real session of the synthetic athlete, while the server goes on with its work. */
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { exampleAthlete, realistic, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { ALGORITHM_VERSION } from '../../shared/src/index.ts';
import type {
  ApiError,
  AthleteSummary,
  ReAnalysisRun,
  ReAnalysisView,
  TrialSummary,
  TrialView,
} from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { coachSession } from '../support/coached-session.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { OLD_VERSION, copyTrial, resultsSeen, storedResult, watchResults } from '../support/stored-trials.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

const SEED = 23;
const SPEED = 5;
const COPIES = 6;
const clock = makeFastClock(SPEED);
const movement = simulateSession({
  seed: SEED,
  athlete: exampleAthlete(SEED),
  script: [
    { kind: 'pause', seconds: 2 },
    { kind: 'reference_stand', seconds: 5 },
    { kind: 'pause', seconds: 1 },
    { kind: 'walk', seconds: 12, cadencePerMin: 110 },
    { kind: 'pause', seconds: 3 },
  ],
  sensors: { pelvis: realistic('pelvis', SEED), sternum: realistic('sternum', SEED) },
});

let server: TestPostgres;
let database: Database;
let api: TestApp;
let first: TrialView;
const open = () => startTestApp(database, { nowUtcMs: clock.nowUtcMs });

beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  api = await open();
  const played = await coachSession(api, movement, { speed: SPEED, prefix: 're', details: { name: 'Test athlete' } });
  played.viewer.socket.terminate();
  first = played.trials[0]!;
  await watchResults(database.sql);
}, 120_000);
afterAll(async () => {
  await api?.close();
  await server?.stop();
});

/** One trial with its first result, of an older version, and nothing else. */
beforeEach(async () => {
  const { sql } = database;
  await sql`delete from re_analysis_runs`;
  await sql`delete from trials where id <> ${first.id}`;
  await sql`update trials set version = ${OLD_VERSION}, discarded = false`;
  await sql`truncate results_seen`;
});

const view = () => api.call<ReAnalysisView>('GET', '/api/re-analysis');
const start = (scope = 'outdated') => api.call<ReAnalysisView>('POST', '/api/re-analysis', { scope }, 202);
const runWhen = (what: string, fits: (run: ReAnalysisRun) => boolean) =>
  waitUntil(what, async () => {
    const { run } = await view();
    return run && fits(run) ? run : null;
  });
const done = () => runWhen('the run is done', ({ state }) => state === 'done');
const refusal = (method: string, path: string, status: number, body?: unknown) =>
  api.call<ApiError>(method, path, body, status).then(({ error }) => error);
const allTrials = async () =>
  (await database.sql`select id from trials order by started_utc_ms, id`).map((row) => String(row['id']));

describe('a run over the outdated trials', () => {
  test('makes the result of the first analysis again, byte for byte, and says so', async () => {
    await database.sql`update trials set version = ${ALGORITHM_VERSION}`;
    const before = await storedResult(database.sql, first.id);
    expect((before['stances'] as unknown[]).length).toBeGreaterThan(10);
    await database.sql`update trials set version = ${OLD_VERSION}`;
    expect(await view()).toEqual({ version: ALGORITHM_VERSION, outdatedTrials: 1, withoutResult: 0, run: null });
    await database.sql`update stances set contact_time_s = 9`;
    expect((await start()).run).toMatchObject({ state: 'running', trialsTotal: 1, version: ALGORITHM_VERSION });
    expect(await done()).toMatchObject({ done: 1, failed: 0, remainingS: null, failures: [] });
    expect(await storedResult(database.sql, first.id)).toEqual(before);
    expect((await view()).outdatedTrials).toBe(0);
  });

  test('brings discarded trials up to date and leaves them so; a failed one that succeeds now is final', async () => {
    await copyTrial(database.sql, first.id, 2);
    const [, discarded, failed] = (await allTrials()) as [string, string, string];
    await database.sql`update trials set discarded = true, note = 'slipped' where id = ${discarded}`;
    await database.sql`update trials set state = 'failed', version = null, problem = 'broken' where id = ${failed}`;
    expect(await view()).toMatchObject({ outdatedTrials: 3, withoutResult: 1 });
    await start();
    expect(await done()).toMatchObject({ done: 3, failed: 0 });
    const trialOf = (id: string) => api.call<TrialView>('GET', `/api/trials/${id}`);
    expect(await trialOf(discarded)).toMatchObject({ discarded: true, note: 'slipped', version: ALGORITHM_VERSION });
    const now = await trialOf(failed);
    expect(now).toMatchObject({ state: 'final', version: ALGORITHM_VERSION, problem: null });
    expect(now.stances.length).toBe(first.stances.length);
  });

  test('leaves a trial whose samples are gone with the result that it had, and tells why', async () => {
    const other = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Other athlete' });
    const { trialIds } = await storeSession(database, other.id, 1000, [{ task: 'run', difference: 3 }]);
    const before = await storedResult(database.sql, trialIds[0]!);
    await start();
    const run = await done();
    expect(run).toMatchObject({ trialsTotal: 2, done: 1, failed: 1 });
    expect(run.failures).toEqual([
      { trialId: trialIds[0], reason: 'No samples of this trial are stored of the sensor at: pelvis.' },
    ]);
    expect(await storedResult(database.sql, trialIds[0]!)).toEqual(before);
    expect(await view()).toMatchObject({ outdatedTrials: 1 });
  });

  test('keeps a result with both sensors when only the samples of one are left', async () => {
    const before = await storedResult(database.sql, first.id);
    await database.sql`update raw_batches set device_id = 'elsewhere' where device_id = 're-sternum'`;
    await start();
    expect((await done()).failures[0]?.reason).toMatch(/at: sternum\.$/);
    expect(await storedResult(database.sql, first.id)).toEqual(before);
    await database.sql`update raw_batches set device_id = 're-sternum' where device_id = 'elsewhere'`;
  });

  test('takes those alone; asked for all, it takes all, also after a restart', async () => {
    await database.sql`update trials set version = ${ALGORITHM_VERSION}`;
    await database.sql`update stances set contact_time_s = 9`;
    expect((await start()).run).toMatchObject({ scope: 'outdated', trialsTotal: 0 });
    await done();
    expect((await start('all')).run).toMatchObject({ scope: 'all', trialsTotal: 1, version: ALGORITHM_VERSION });
    await api.close();
    api = await open();
    expect(await done()).toMatchObject({ scope: 'all', done: 1 });
    expect((await api.call<TrialView>('GET', `/api/trials/${first.id}`)).stances).toEqual(first.stances);
  });
});

describe('while it runs', () => {
  test('a second one is refused, and cancelled it ends after the trial in hand with the rest as it was', async () => {
    await copyTrial(database.sql, first.id, COPIES);
    await start();
    expect(await refusal('POST', '/api/re-analysis', 409, { scope: 'all' })).toMatchObject({
      code: 're-analysis-running',
      message: expect.stringContaining('cancel it first'),
    });
    const under = await runWhen('two are done', (run) => run.done >= 2);
    expect(under.remainingS).toBeGreaterThan(0);
    const cancelled = (await api.call<ReAnalysisView>('POST', '/api/re-analysis/cancel', undefined, 202)).run!;
    expect(cancelled).toMatchObject({ state: 'cancelled', remainingS: null });
    expect(cancelled.endedUtcMs).toBeGreaterThanOrEqual(cancelled.startedUtcMs);
    // Closed, a server has nothing in hand any more.
    await api.close();
    api = await open();
    const { run, outdatedTrials } = await view();
    expect(run!.state).toBe('cancelled');
    expect(run!.done - cancelled.done).toBeLessThanOrEqual(1);
    expect(outdatedTrials).toBe(COPIES + 1 - run!.done);
    expect(outdatedTrials).toBeGreaterThan(0);
    expect(await resultsSeen(database.sql)).toEqual((await allTrials()).slice(0, run!.done));
  });

  test('closed in the middle, the next start goes on: each trial is dealt with once, in order', async () => {
    await copyTrial(database.sql, first.id, COPIES);
    await start();
    await runWhen('two are done', (run) => run.done >= 2);
    await api.close();
    const early = await resultsSeen(database.sql);
    expect(early.length).toBeLessThan(COPIES + 1);
    api = await open();
    expect(await done()).toMatchObject({ trialsTotal: COPIES + 1, done: COPIES + 1, failed: 0 });
    expect(await resultsSeen(database.sql)).toEqual(await allTrials());
  });

  test('a trial that ends meanwhile has its result before the rest of the run', async () => {
    await copyTrial(database.sql, first.id, COPIES);
    const [row] = await database.sql`
      insert into trials (session_id, task, state, started_utc_ms)
      select session_id, task, 'running', started_utc_ms + 1000 from trials where id = ${first.id} returning id`;
    const live = String(row!['id']);
    await start();
    await runWhen('one is done', (run) => run.done >= 1);
    await api.call<TrialSummary>('POST', `/api/trials/${live}/stop`);
    const atStop = (await resultsSeen(database.sql)).length;
    await done();
    const seen = await resultsSeen(database.sql);
    // The one in hand at the tap may still end before it.
    expect(seen.indexOf(live) - atStop).toBeLessThanOrEqual(1);
    expect(seen.indexOf(live)).toBeGreaterThanOrEqual(atStop);
    expect(seen).toHaveLength(COPIES + 2);
    expect(seen.indexOf(live)).toBeLessThan(COPIES);
    expect(await api.call('GET', `/api/trials/${live}`)).toMatchObject({ state: 'final', version: ALGORITHM_VERSION });
  });
});

describe('a run is refused or given up', () => {
  test('of another version it is superseded by the start of this server, and not begun again', async () => {
    const old = { version: OLD_VERSION, state: 'running', started_utc_ms: 5, trials_total: 9, trials_done: 4 };
    await database.sql`insert into re_analysis_runs ${database.sql(old)}`;
    await api.close();
    api = await open();
    expect((await view()).run).toMatchObject({ version: OLD_VERSION, state: 'superseded', done: 4, trialsTotal: 9 });
    expect((await start()).run).toMatchObject({ state: 'running', version: ALGORITHM_VERSION });
    await done();
  });

  test('when nothing is under way there is nothing to cancel, and a scope has to be one', async () => {
    expect((await refusal('POST', '/api/re-analysis/cancel', 409)).code).toBe('no-re-analysis');
    expect((await refusal('POST', '/api/re-analysis', 400, { scope: 'some' })).message).toContain('outdated, all');
    expect((await refusal('POST', '/api/re-analysis', 400, {})).message).toContain('must have scope');
  });
});
