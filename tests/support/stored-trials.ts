/** What tests of re-analysis do to stored trials, and how they see what became of them. */
import { createAthlete } from '../../server/src/store/athletes.ts';
import type { Database, Sql } from '../../server/src/store/database.ts';
import { createRawLog } from '../../server/src/store/raw-batches.ts';
import { saveResult } from '../../server/src/store/save-result.ts';
import { createSession, endSession } from '../../server/src/store/sessions.ts';
import { closeTrial, createTrial } from '../../server/src/store/trials.ts';
import { makeRawBatch } from './raw-batch.ts';
import { makeResult } from './sample-result.ts';

/** Of a version that no server has had: all trials are outdated by it. */
export const OLD_VERSION = 'motion-0';

const NOISE_BATCHES = 100;

/** Stores a trial over four seconds of samples that are noise: they can be analysed, and no stance comes of it. */
export async function storeNoiseTrial(database: Database): Promise<string> {
  const { db } = database;
  const batches = Array.from({ length: NOISE_BATCHES }, (_, k) => makeRawBatch({ firstSequence: k * 8 }));
  await createRawLog(database).append(batches);
  const startUtcMs = batches[0]!.firstUtcMs + 500;
  const athlete = await createAthlete(db, 'Somebody', 0);
  const session = await createSession(db, athlete.id, { pelvis: batches[0]!.deviceId }, startUtcMs - 400);
  const trial = await createTrial(db, session, 'stand', startUtcMs);
  await closeTrial(db, trial.id, startUtcMs + 2000);
  await saveResult(db, trial.id, makeResult(), { dataComplete: true, problem: null });
  await endSession(db, session.id, startUtcMs + 3000);
  return trial.id;
}

/** Everything that is stored of a trial's result, as PostgreSQL writes it. */
export async function storedResult(sql: Sql, trialId: string): Promise<Record<string, unknown>> {
  const [trial] = await sql`
    select state, version, problem, data_complete, quality::text, task_summary::text, waveforms::text, tags::text, note, discarded
    from trials where id = ${trialId}`;
  const stances = await sql`select stances::text as line from stances where trial_id = ${trialId} order by id`;
  const metrics = await sql`select m::text as line from trial_metrics m where trial_id = ${trialId} order by metric`;
  const linesOf = (rows: readonly Record<string, unknown>[]): unknown[] => rows.map((row) => row['line']);
  return { ...trial, stances: linesOf(stances), metrics: linesOf(metrics) };
}

/** The same trial so many times more, each a millisecond later: same task and samples, without a result of this version. */
export async function copyTrial(sql: Sql, trialId: string, times: number): Promise<void> {
  await sql`
    insert into trials (session_id, task, state, started_utc_ms, ended_utc_ms, version, quality, data_complete)
    select session_id, task, state, started_utc_ms + k, ended_utc_ms, ${OLD_VERSION}, quality, true
    from trials, generate_series(1, ${times}) as k where trials.id = ${trialId}`;
}

/** From now on the database writes down each time that a trial gets another version or state, itself and in order. */
export async function watchResults(sql: Sql): Promise<void> {
  await sql`create table results_seen (n serial primary key, trial_id uuid not null)`;
  await sql`create function see_result() returns trigger language plpgsql as
    $$ begin insert into results_seen (trial_id) values (new.id); return new; end $$`;
  await sql`create trigger see_result after update on trials for each row
    when (new.state in ('final', 'failed') and (new.version, new.state) is distinct from (old.version, old.state))
    execute function see_result()`;
}

/** Trials that got a result, in that order, since the watch began or was last emptied. */
export async function resultsSeen(sql: Sql): Promise<string[]> {
  return (await sql`select trial_id from results_seen order by n`).map((row) => String(row['trial_id']));
}
