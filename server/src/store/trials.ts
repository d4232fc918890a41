/** Trials and their stored results. */
import { and, asc, desc, eq, gte, inArray, sql, type SQL } from 'drizzle-orm';
import type {
  HistoryPoint,
  Side,
  StanceMetricKey,
  Task,
  TrialChange,
  TrialState,
  TrialSummary,
  TrialView,
  TrialWaveforms,
} from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { sessions, stances, trialMetrics, trials } from './schema/index.ts';
import { listStances } from './stances.ts';
import { listTrialMetrics, toAsymmetry } from './trial-metrics.ts';

/** Kept stances of a side. */
const countOf = (side: Side): SQL<number> =>
  sql<number>`(select count(*)::int from ${stances} where ${stances.trialId} = ${trials.id} and ${stances.side} = ${side})`;

const summaryColumns = {
  id: trials.id,
  sessionId: trials.sessionId,
  athleteId: sessions.athleteId,
  importedFrom: sessions.importedFrom,
  task: trials.task,
  state: trials.state,
  startedUtcMs: trials.startedUtcMs,
  endedUtcMs: trials.endedUtcMs,
  version: trials.version,
  problem: trials.problem,
  bodyMassKg: trials.bodyMassKg,
  tags: trials.tags,
  note: trials.note,
  discarded: trials.discarded,
  stanceCount: { left: countOf('left'), right: countOf('right') },
};

/** A trial that begins; its athlete's body mass goes with it. */
export async function createTrial(
  db: DbOrTx,
  session: { id: string; athleteId: string },
  task: Task,
  startedUtcMs: number,
  bodyMassKg: number | null = null,
): Promise<TrialSummary> {
  const [row] = await db
    .insert(trials)
    .values({ sessionId: session.id, task, state: 'running', startedUtcMs, bodyMassKg })
    .returning();
  if (!row) throw new Error('the new trial was not returned');
  const { dataComplete: _complete, quality: _quality, taskSummary: _summary, waveforms: _waveforms, ...summary } = row;
  return { ...summary, athleteId: session.athleteId, importedFrom: null, stanceCount: { left: 0, right: 0 } };
}

/** The trial's span has ended; its final result is to be made. */
export async function closeTrial(db: DbOrTx, id: string, endedUtcMs: number): Promise<void> {
  await db.update(trials).set({ state: 're-analysing', endedUtcMs }).where(eq(trials.id, id));
}

export async function markReanalysing(db: DbOrTx, id: string): Promise<void> {
  await db.update(trials).set({ state: 're-analysing' }).where(eq(trials.id, id));
}

/** False when there is no such trial. */
export async function changeTrial(db: DbOrTx, id: string, change: TrialChange): Promise<boolean> {
  const rows = await db.update(trials).set(change).where(eq(trials.id, id)).returning({ id: trials.id });
  return rows.length > 0;
}

export async function findTrial(db: DbOrTx, id: string): Promise<TrialSummary | null> {
  const rows: TrialSummary[] = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(trials.id, id));
  return rows[0] ?? null;
}

export async function listTrialsOfSession(db: DbOrTx, sessionId: string): Promise<TrialSummary[]> {
  const rows: TrialSummary[] = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(trials.sessionId, sessionId))
    .orderBy(asc(trials.startedUtcMs), asc(trials.id));
  return rows;
}

/** Newest first. */
export async function listTrialsOfAthlete(db: DbOrTx, athleteId: string): Promise<TrialSummary[]> {
  const rows: TrialSummary[] = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(sessions.athleteId, athleteId))
    .orderBy(desc(trials.startedUtcMs), desc(trials.id));
  return rows;
}

export async function listTrialsInState(db: DbOrTx, state: TrialState): Promise<TrialSummary[]> {
  const rows: TrialSummary[] = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(trials.state, state))
    .orderBy(asc(trials.startedUtcMs));
  return rows;
}

/** Done, yet samples were missing at the end that their devices may still hold. */
export async function listIncompleteTrials(db: DbOrTx, sinceUtcMs: number): Promise<TrialSummary[]> {
  const rows: TrialSummary[] = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(
      and(
        inArray(trials.state, ['final', 'failed']),
        eq(trials.dataComplete, false),
        gte(trials.startedUtcMs, sinceUtcMs),
      ),
    )
    .orderBy(asc(trials.startedUtcMs));
  return rows;
}

export async function viewTrial(db: DbOrTx, id: string): Promise<TrialView | null> {
  const summary = await findTrial(db, id);
  if (!summary) return null;
  const [row] = await db
    .select({ quality: trials.quality, taskSummary: trials.taskSummary })
    .from(trials)
    .where(eq(trials.id, id));
  return {
    ...summary,
    stances: await listStances(db, id),
    asymmetry: await listTrialMetrics(db, id),
    quality: row?.quality ?? null,
    taskSummary: row?.taskSummary ?? null,
  };
}

/** Null when the trial's result is not final, or was stored by a version that kept no waveforms. */
export async function findWaveforms(db: DbOrTx, id: string): Promise<TrialWaveforms | null> {
  const [row] = await db
    .select({ version: trials.version, waveforms: trials.waveforms })
    .from(trials)
    .where(and(eq(trials.id, id), eq(trials.state, 'final')));
  if (!row?.version || !row.waveforms) return null;
  return { trialId: id, version: row.version, waveforms: row.waveforms };
}

/** One metric over all final trials of an athlete that were not discarded, oldest first. */
export async function listHistory(db: DbOrTx, athleteId: string, metric: StanceMetricKey): Promise<HistoryPoint[]> {
  const rows = await db
    .select({
      trialId: trials.id,
      task: trials.task,
      utcMs: trials.startedUtcMs,
      version: trials.version,
      metric: trialMetrics,
    })
    .from(trialMetrics)
    .innerJoin(trials, eq(trialMetrics.trialId, trials.id))
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(
      and(
        eq(sessions.athleteId, athleteId),
        eq(trialMetrics.metric, metric),
        eq(trials.state, 'final'),
        eq(trials.discarded, false),
      ),
    )
    .orderBy(asc(trials.startedUtcMs), asc(trials.id));
  return rows.map(({ metric: row, version, ...point }) => ({
    ...point,
    version: version ?? '',
    asymmetry: toAsymmetry(row),
  }));
}
