/** Trials and their stored results. */
import { and, asc, count, desc, eq, gte, inArray } from 'drizzle-orm';
import type {
  AnalysisResult,
  HistoryPoint,
  StanceMetricKey,
  Task,
  TrialChange,
  TrialState,
  TrialSummary,
  TrialView,
  TrialWaveforms,
} from '@ambipede/shared';
import type { Db, DbOrTx } from './database.ts';
import { sessions, stances, trialMetrics, trials } from './schema/index.ts';
import { insertStances, listStances } from './stances.ts';
import { insertTrialMetrics, listTrialMetrics, toAsymmetry } from './trial-metrics.ts';

const summaryColumns = {
  id: trials.id,
  sessionId: trials.sessionId,
  athleteId: sessions.athleteId,
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
};

/** What is stored of a result; angles and contacts are made again when somebody asks. */
export type StoredResult = Pick<
  AnalysisResult,
  'version' | 'stances' | 'asymmetry' | 'quality' | 'taskSummary' | 'waveforms'
>;

/** A trial that begins; its athlete's body mass goes with it. */
export async function createTrial(
  db: DbOrTx,
  sessionId: string,
  task: Task,
  nowUtcMs: number,
  bodyMassKg: number | null = null,
): Promise<string> {
  const [row] = await db
    .insert(trials)
    .values({ sessionId, task, state: 'running', startedUtcMs: nowUtcMs, bodyMassKg })
    .returning({ id: trials.id });
  if (!row) throw new Error('the new trial was not returned');
  return row.id;
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

/** What an earlier result left is removed: it is not what the trial holds. */
export async function failTrial(
  db: Db,
  id: string,
  outcome: { problem: string; dataComplete: boolean },
): Promise<void> {
  await db.transaction(async (tx) => {
    await tx.delete(stances).where(eq(stances.trialId, id));
    await tx.delete(trialMetrics).where(eq(trialMetrics.trialId, id));
    await tx
      .update(trials)
      .set({ state: 'failed', version: null, quality: null, taskSummary: null, waveforms: null, ...outcome })
      .where(eq(trials.id, id));
  });
}

/** Replaces whatever result there was, all or nothing. */
export async function saveResult(
  db: Db,
  id: string,
  { stances: kept, asymmetry, ...whole }: StoredResult,
  outcome: { problem: string | null; dataComplete: boolean },
): Promise<void> {
  await db.transaction(async (tx) => {
    await tx.delete(stances).where(eq(stances.trialId, id));
    await tx.delete(trialMetrics).where(eq(trialMetrics.trialId, id));
    await insertStances(tx, id, kept);
    await insertTrialMetrics(tx, id, asymmetry);
    await tx
      .update(trials)
      .set({ state: 'final', ...whole, ...outcome })
      .where(eq(trials.id, id));
  });
}

export async function findTrial(db: DbOrTx, id: string): Promise<TrialSummary | null> {
  const rows = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(trials.id, id));
  return (await withCounts(db, rows))[0] ?? null;
}

export async function listTrialsOfSession(db: DbOrTx, sessionId: string): Promise<TrialSummary[]> {
  const rows = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(trials.sessionId, sessionId))
    .orderBy(asc(trials.startedUtcMs), asc(trials.id));
  return withCounts(db, rows);
}

/** Newest first. */
export async function listTrialsOfAthlete(db: DbOrTx, athleteId: string): Promise<TrialSummary[]> {
  const rows = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(sessions.athleteId, athleteId))
    .orderBy(desc(trials.startedUtcMs), desc(trials.id));
  return withCounts(db, rows);
}

export async function listTrialsInState(db: DbOrTx, state: TrialState): Promise<TrialSummary[]> {
  const rows = await db
    .select(summaryColumns)
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(eq(trials.state, state))
    .orderBy(asc(trials.startedUtcMs));
  return withCounts(db, rows);
}

/** Done, yet samples were missing at the end that their devices may still hold. */
export async function listIncompleteTrials(db: DbOrTx, sinceUtcMs: number): Promise<TrialSummary[]> {
  const rows = await db
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
  return withCounts(db, rows);
}

async function withCounts(db: DbOrTx, rows: Omit<TrialSummary, 'stanceCount'>[]): Promise<TrialSummary[]> {
  if (rows.length === 0) return [];
  const ids = rows.map((row) => row.id);
  const counts = await db
    .select({ trialId: stances.trialId, side: stances.side, n: count() })
    .from(stances)
    .where(inArray(stances.trialId, ids))
    .groupBy(stances.trialId, stances.side);
  const of = (id: string, side: string): number => counts.find((c) => c.trialId === id && c.side === side)?.n ?? 0;
  return rows.map((row) => ({ ...row, stanceCount: { left: of(row.id, 'left'), right: of(row.id, 'right') } }));
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
