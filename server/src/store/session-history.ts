/** What the history of one metric and task is made of. */
import { and, asc, eq } from 'drizzle-orm';
import type { StanceMetricKey, StanceRung } from '@ambipede/shared';
import type { TrialDifference } from '../history/session-difference.ts';
import type { DbOrTx } from './database.ts';
import { sessions, trialMetrics, trials } from './schema/index.ts';

/** Final trials that were not discarded, oldest first. */
export async function listTrialDifferences(
  db: DbOrTx,
  athleteId: string,
  task: StanceRung,
  metric: StanceMetricKey,
): Promise<TrialDifference[]> {
  const rows = await db
    .select({
      sessionId: trials.sessionId,
      sessionUtcMs: sessions.startedUtcMs,
      version: trials.version,
      leftN: trialMetrics.leftN,
      rightN: trialMetrics.rightN,
      difference: trialMetrics.difference,
      ciLow: trialMetrics.ciLow,
      ciHigh: trialMetrics.ciHigh,
    })
    .from(sessions)
    .innerJoin(trials, eq(trials.sessionId, sessions.id))
    .innerJoin(trialMetrics, and(eq(trialMetrics.trialId, trials.id), eq(trialMetrics.metric, metric)))
    .where(
      and(
        eq(sessions.athleteId, athleteId),
        eq(trials.task, task),
        eq(trials.state, 'final'),
        eq(trials.discarded, false),
      ),
    )
    .orderBy(asc(sessions.startedUtcMs), asc(trials.startedUtcMs), asc(trials.id));
  return rows.map(({ ciLow, ciHigh, version, ...row }) => ({
    ...row,
    version: version ?? '',
    ci95: ciLow === null || ciHigh === null ? null : [ciLow, ciHigh],
  }));
}
