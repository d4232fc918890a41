/** Runs over all stored trials: which one is under way, and how far it has come. Each change is one statement. */
import { and, desc, eq, sql, type SQL } from 'drizzle-orm';
import { PLACES } from '@ambipede/shared';
import type { Place } from '@ambipede/shared';
import type { Db } from './database.ts';
import { reAnalysisRuns, trials } from './schema/index.ts';

export type StoredRun = typeof reAnalysisRuns.$inferSelect;

/** Null while another run is under way. The trials that it is to deal with are counted in the same moment. */
export async function startRun(
  db: Db,
  { version, scope, startedUtcMs }: Pick<StoredRun, 'version' | 'scope' | 'startedUtcMs'>,
): Promise<StoredRun | null> {
  const rows = await db
    .insert(reAnalysisRuns)
    .values({
      ...{ version, scope },
      state: 'running',
      startedUtcMs,
      trialsTotal: sql`(select count(*) from ${trials} where ${isWanted({ version, scope, startedUtcMs })})`,
    })
    .onConflictDoNothing()
    .returning();
  return rows[0] ?? null;
}

export async function findRun(db: Db, id: string): Promise<StoredRun | null> {
  const [row] = await db.select().from(reAnalysisRuns).where(eq(reAnalysisRuns.id, id));
  return row ?? null;
}

/** The one under way, else the one started last. */
export async function newestRun(db: Db): Promise<StoredRun | null> {
  const [row] = await db
    .select()
    .from(reAnalysisRuns)
    .orderBy(desc(sql`${reAnalysisRuns.state} = 'running'`), desc(reAnalysisRuns.startedUtcMs), desc(reAnalysisRuns.id))
    .limit(1);
  return row ?? null;
}

/** False when the run is not under way any more. */
export async function endRun(
  db: Db,
  id: string,
  state: 'done' | 'cancelled' | 'superseded',
  endedUtcMs: number,
): Promise<boolean> {
  const rows = await db
    .update(reAnalysisRuns)
    .set({ state, endedUtcMs })
    .where(and(eq(reAnalysisRuns.id, id), eq(reAnalysisRuns.state, 'running')))
    .returning({ id: reAnalysisRuns.id });
  return rows.length > 0;
}

/** The first trial behind the run's cursor, in the order of start and id; null when the run is through. */
export async function nextTrial(db: Db, run: StoredRun): Promise<{ id: string; startedUtcMs: number } | null> {
  const behind =
    run.lastTrialId === null
      ? undefined
      : sql`(${trials.startedUtcMs}, ${trials.id}) > (${run.lastTrialStartedUtcMs}, ${run.lastTrialId}::uuid)`;
  const [row] = await db
    .select({ id: trials.id, startedUtcMs: trials.startedUtcMs })
    .from(trials)
    .where(and(isWanted(run), behind))
    .orderBy(trials.startedUtcMs, trials.id)
    .limit(1);
  return row ?? null;
}

/** Ended trials without a result of this version, and how many of them have none at all. */
export async function countOutdated(
  db: Db,
  version: string,
): Promise<{ outdatedTrials: number; withoutResult: number }> {
  const [row] = await db
    .select({
      outdatedTrials: sql<number>`count(*)::int`,
      withoutResult: sql<number>`(count(*) filter (where ${trials.state} = 'failed'))::int`,
    })
    .from(trials)
    .where(and(isSettled, isOutdated(version)));
  return row ?? { outdatedTrials: 0, withoutResult: 0 };
}

/**
 * Moves the run's cursor to this trial and counts it, unless the cursor is there already: part of a statement that does with the
 * trial what is counted. A run cancelled while the trial was in hand still counts it.
 */
export function cursorMove(
  runId: string,
  trial: { id: string; startedUtcMs: number },
  as: 'trialsDone' | 'trialsFailed',
): SQL {
  const count = sql.identifier(reAnalysisRuns[as].name);
  return sql`update ${reAnalysisRuns} set ${count} = ${count} + 1,
      trials_total = greatest(trials_total, trials_done + trials_failed + 1),
      last_trial_started_utc_ms = ${trial.startedUtcMs}, last_trial_id = ${trial.id}::uuid
    where ${reAnalysisRuns.id} = ${runId} and ${reAnalysisRuns.state} in ('running', 'cancelled')
      and (${reAnalysisRuns.lastTrialId} is null
        or (${reAnalysisRuns.lastTrialStartedUtcMs}, ${reAnalysisRuns.lastTrialId}) < (${trial.startedUtcMs}, ${trial.id}::uuid))
    returning ${reAnalysisRuns.id}`;
}

/** Counts a trial that is left as it is. */
export async function passTrial(
  db: Db,
  runId: string,
  trial: { id: string; startedUtcMs: number },
  as: 'trialsDone' | 'trialsFailed',
): Promise<void> {
  await db.execute(cursorMove(runId, trial, as));
}

/** Where sensors were measured by the result that a trial has; the pelvis always was. */
export async function measuredPlaces(db: Db, trialId: string): Promise<Place[]> {
  const [row] = await db.select({ quality: trials.quality }).from(trials).where(eq(trials.id, trialId));
  const mounting = row?.quality?.mounting ?? {};
  return PLACES.filter((place) => place === 'pelvis' || mounting[place] !== undefined);
}

const isSettled = sql`${trials.state} in ('final', 'failed')`;

function isOutdated(version: string): SQL {
  return sql`${trials.version} is distinct from ${version}`;
}

/** Trials that ended after the start of the run have this version anyway. */
function isWanted({ version, scope, startedUtcMs }: Pick<StoredRun, 'version' | 'scope' | 'startedUtcMs'>): SQL {
  const outdated = isOutdated(version);
  if (scope === 'outdated') return sql`${isSettled} and ${outdated}`;
  return sql`${isSettled} and (${outdated} or ${trials.startedUtcMs} <= ${startedUtcMs})`;
}
