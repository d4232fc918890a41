/** What the store holds to when a result made anew meets one that somebody else has stored meanwhile. */
import { beforeEach, describe, expect, test } from 'vitest';
import type { Database } from '../../server/src/store/database.ts';
import { endRun, findRun, newestRun, nextTrial, passTrial, startRun } from '../../server/src/store/re-analysis-runs.ts';
import { saveReAnalysed } from '../../server/src/store/save-re-analysed.ts';
import { saveResult } from '../../server/src/store/save-result.ts';
import { findTrial, markReanalysing } from '../../server/src/store/trials.ts';
import type { AthleteSummary, TrialSummary } from '../../shared/src/index.ts';
import { makeAsymmetry, makeResult, makeStance } from '../support/sample-result.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { storedResult } from '../support/stored-trials.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';

const COMPLETE = { dataComplete: true, problem: null };
const anew = {
  ...makeResult(),
  version: 'anew-2',
  stances: [makeStance(3, 'left'), makeStance(8, 'right')],
  asymmetry: { contactTimeS: makeAsymmetry({ difference: 1 }) },
};
const live = { ...makeResult(), version: 'live-2', stances: [makeStance(5, 'right')] };

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));
let runId: string;
let trial: TrialSummary;

beforeEach(async () => {
  const { db, sql } = database;
  await sql`delete from re_analysis_runs`;
  await sql`delete from trials`;
  const { id } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Somebody' });
  const { trialIds } = await storeSession(database, id, 1000, [{ task: 'run', difference: 3, version: 'old-1' }]);
  trial = (await findTrial(db, trialIds[0]!))!;
  runId = (await startRun(db, { version: 'anew-2', scope: 'outdated', startedUtcMs: 5000 }))!.id;
});

const save = () => saveReAnalysed(database.db, runId, trial, anew, 'late');
const stored = () => storedResult(database.sql, trial.id);
const run = () => findRun(database.db, runId);

describe('a result made anew', () => {
  test('replaces the old one, and is counted with it', async () => {
    expect(await save()).toBe(true);
    expect(await run()).toMatchObject({ trialsDone: 1, trialsFailed: 0, lastTrialId: trial.id });
    expect(await findTrial(database.db, trial.id)).toMatchObject({
      version: 'anew-2',
      state: 'final',
      problem: 'late',
    });
  });

  test('leaves exactly what an ordinary store of the same result leaves', async () => {
    await saveResult(database.db, trial.id, anew, { dataComplete: true, problem: 'late' });
    const ordinary = await stored();
    await saveResult(database.db, trial.id, { ...makeResult(), version: 'old-1' }, COMPLETE);
    expect(await stored()).not.toEqual(ordinary);
    await save();
    expect(await stored()).toEqual(ordinary);
  });

  test('does not replace one that was stored meanwhile, and counts the trial', async () => {
    await saveResult(database.db, trial.id, live, COMPLETE);
    const before = await stored();
    expect(await save()).toBe(false);
    expect(await stored()).toEqual(before);
    expect(await run()).toMatchObject({ trialsDone: 1 });
  });

  test('does not replace one whose new result is being made', async () => {
    await markReanalysing(database.db, trial.id);
    const before = await stored();
    expect(await save()).toBe(false);
    expect(await stored()).toEqual(before);
  });

  test('waits for a change of the trial under way, and then gives way to it', async () => {
    let saving: Promise<boolean> | undefined;
    await database.sql.begin(async (other) => {
      await other`update trials set version = 'live-2' where id = ${trial.id}`;
      saving = save();
      await waitUntil('it waits for the lock', async () => {
        const rows =
          await database.sql`select from pg_stat_activity where wait_event_type = 'Lock' and query like '%counted%'`;
        return rows.length > 0;
      });
    });
    expect(await saving).toBe(false);
    expect(await stored()).toMatchObject({ version: 'live-2' });
    expect(((await stored())['stances'] as unknown[]).length).toBe(makeResult().stances.length);
  });

  test('that cannot be stored counts nothing and changes nothing', async () => {
    const before = await stored();
    const twice = { ...anew, stances: [makeStance(1, 'left'), makeStance(1, 'left')] };
    await expect(saveReAnalysed(database.db, runId, trial, twice, null)).rejects.toThrow();
    expect(await stored()).toEqual(before);
    expect(await run()).toMatchObject({ trialsDone: 0, lastTrialId: null });
  });

  test('is counted once, however often it is tried, also when the run was cancelled with the trial in hand', async () => {
    await endRun(database.db, runId, 'cancelled', 6000);
    expect(await save()).toBe(true);
    // As if the trial still were what the result was made for.
    await saveResult(database.db, trial.id, { ...makeResult(), version: 'old-1' }, COMPLETE);
    expect(await save()).toBe(false);
    expect(await stored()).toMatchObject({ version: 'old-1' });
    await passTrial(database.db, runId, trial, 'trialsFailed');
    expect(await run()).toMatchObject({ state: 'cancelled', trialsDone: 1, trialsFailed: 0, endedUtcMs: 6000 });
  });
});

describe('runs', () => {
  test('one is under way at a time, and it knows its trials and their order', async () => {
    const { db } = database;
    expect(await startRun(db, { version: 'x', scope: 'all', startedUtcMs: 1 })).toBeNull();
    const { trialIds } = await storeSession(database, trial.athleteId, 500, [{ task: 'walk', version: 'old-1' }]);
    expect((await nextTrial(db, (await run())!))?.id).toBe(trialIds[0]);
    await passTrial(db, runId, { id: trialIds[0]!, startedUtcMs: 500 }, 'trialsFailed');
    expect((await nextTrial(db, (await run())!))?.id).toBe(trial.id);
    await passTrial(db, runId, trial, 'trialsDone');
    // Counted when there was one trial: never more done than there are.
    expect(await run()).toMatchObject({ trialsTotal: 2, trialsDone: 1, trialsFailed: 1 });
    expect(await nextTrial(db, (await run())!)).toBeNull();
    expect(await endRun(db, runId, 'done', 9000)).toBe(true);
    expect(await endRun(db, runId, 'cancelled', 9001)).toBe(false);
    const all = (await startRun(db, { version: 'old-1', scope: 'all', startedUtcMs: 9100 }))!;
    expect(all).toMatchObject({ version: 'old-1', scope: 'all', trialsTotal: 2 });
    expect(await newestRun(db)).toEqual(all);
  });
});
