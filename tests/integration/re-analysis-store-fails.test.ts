/** A run over stored trials whose database goes away, or does not take one of the results. */
import { beforeEach, expect, test } from 'vitest';
import type { ReAnalysisView } from '../../shared/src/index.ts';
import { ATTEMPTS_MAX } from '../../server/src/session/re-analysis.ts';
import type { Database } from '../../server/src/store/database.ts';
import { copyTrial, resultsSeen, storeNoiseTrial, storedResult, watchResults } from '../support/stored-trials.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';

const COPIES = 40;
const CUTS = 2;

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));
let trialId: string;

beforeEach(async () => {
  const { sql } = database;
  await sql`delete from re_analysis_runs`;
  await sql`delete from trials`;
  await sql`drop table if exists results_seen cascade`;
  await sql`drop function if exists see_result cascade`;
  trialId = await storeNoiseTrial(database);
  await watchResults(sql);
});

const view = () => api.call<ReAnalysisView>('GET', '/api/re-analysis').catch(() => null);
const runWhen = (what: string, fits: (run: NonNullable<ReAnalysisView['run']>) => boolean) =>
  waitUntil(what, async () => {
    const run = (await view())?.run;
    return run && fits(run) ? run : null;
  });

test('a database that goes away is asked again, and each trial is dealt with once', async () => {
  const { sql } = database;
  await copyTrial(sql, trialId, COPIES);
  await api.call('POST', '/api/re-analysis', { scope: 'outdated' });
  for (let cut = 1; cut <= CUTS; cut++) {
    await runWhen('it has come further', (run) => run.done >= 5 * cut);
    await sql`select pg_terminate_backend(pid) from pg_stat_activity
      where datname = current_database() and pid <> pg_backend_pid()`;
  }
  expect(await runWhen('it is done', ({ state }) => state === 'done')).toMatchObject({
    trialsTotal: COPIES + 1,
    done: COPIES + 1,
    failed: 0,
  });
  expect(new Set(await resultsSeen(sql)).size).toBe(COPIES + 1);
  expect(await resultsSeen(sql)).toHaveLength(COPIES + 1);
});

test('a result that the store does not take stops no other: the trial keeps what it had', async () => {
  const { sql } = database;
  await copyTrial(sql, trialId, 1);
  await sql.unsafe(`create function refuse_result() returns trigger language plpgsql as
    $$ begin if new.id = '${trialId}' then raise exception 'refused'; end if; return new; end $$`);
  await sql`create trigger refuse_result before update on trials for each row execute function refuse_result()`;
  const before = await storedResult(sql, trialId);
  await api.call('POST', '/api/re-analysis', { scope: 'outdated' });
  const run = await runWhen('it is done', ({ state }) => state === 'done');
  await sql`drop function refuse_result cascade`;
  expect(run).toMatchObject({ trialsTotal: 2, done: 1, failed: 1 });
  expect(run.failures).toEqual([{ trialId, reason: expect.stringContaining(`in ${ATTEMPTS_MAX} attempts`) }]);
  expect(await storedResult(sql, trialId)).toEqual(before);
  expect(api.log.join('')).toContain('Re-analysis waits for the store: refused');
});
