/** What the history of metrics and tasks is made of. */
import { and, asc, eq, or } from 'drizzle-orm';
import type { StanceMetricKey, StanceRung } from '@ambipede/shared';
import type { TrialDifference } from '../history/session-difference.ts';
import type { DbOrTx } from './database.ts';
import { sessions, trialMetrics, trials } from './schema/index.ts';

export interface TaskMetric {
  task: StanceRung;
  metric: StanceMetricKey;
}

/** Final trials that were not discarded, oldest first. */
export async function listTrialDifferences(
  db: DbOrTx,
  athleteId: string,
  task: StanceRung,
  metric: StanceMetricKey,
): Promise<TrialDifference[]> {
  return listTrialDifferencesOf(db, athleteId, [{ task, metric }]);
}

/** The same of several tasks and metrics, read at one moment. */
export async function listTrialDifferencesOf(
  db: DbOrTx,
  athleteId: string,
  pairs: readonly TaskMetric[],
): Promise<(TrialDifference & TaskMetric)[]> {
  if (pairs.length === 0) return [];
  const isAsked = or(...pairs.map(({ task, metric }) => and(eq(trials.task, task), eq(trialMetrics.metric, metric))));
  const rows = await db
    .select({
      sessionId: trials.sessionId,
      sessionUtcMs: sessions.startedUtcMs,
      version: trials.version,
      task: trials.task,
      metric: trialMetrics.metric,
      leftN: trialMetrics.leftN,
      rightN: trialMetrics.rightN,
      difference: trialMetrics.difference,
      ciLow: trialMetrics.ciLow,
      ciHigh: trialMetrics.ciHigh,
      placementUncertainty: trialMetrics.placementUncertainty,
    })
    .from(sessions)
    .innerJoin(trials, eq(trials.sessionId, sessions.id))
    .innerJoin(trialMetrics, eq(trialMetrics.trialId, trials.id))
    .where(and(eq(sessions.athleteId, athleteId), isAsked, eq(trials.state, 'final'), eq(trials.discarded, false)))
    .orderBy(asc(sessions.startedUtcMs), asc(trials.startedUtcMs), asc(trials.id));
  return rows.map(({ ciLow, ciHigh, version, task, ...row }) => ({
    ...row,
    // Only tasks that were asked for come back.
    task: task as StanceRung,
    version: version ?? '',
    ci95: ciLow === null || ciHigh === null ? null : [ciLow, ciHigh],
  }));
}
