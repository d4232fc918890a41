/** Differences of all final trials of an athlete, some trials at a time: however many there are, a page is soon made. */
import { and, asc, eq, gt, inArray, or } from 'drizzle-orm';
import { STANCE_METRIC_KEYS } from '@ambipede/shared';
import type { MetricAsymmetry, StanceMetricKey, Task } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { sessions, trialMetrics, trials } from './schema/index.ts';
import { toAsymmetry } from './trial-metrics.ts';

export const TRIALS_PER_PAGE = 20;

export interface TrialDifferences {
  id: string;
  sessionId: string;
  task: Task;
  startedUtcMs: number;
  version: string | null;
  discarded: boolean;
  tags: string[];
  note: string;
  /** In the order of the catalogue. */
  metrics: [StanceMetricKey, MetricAsymmetry][];
}

/** Oldest first, those after `last`; discarded ones too. */
export async function pageOfSummaries(
  db: DbOrTx,
  athleteId: string,
  last: Pick<TrialDifferences, 'id' | 'startedUtcMs'> | null,
): Promise<TrialDifferences[]> {
  const isLater =
    last === null
      ? undefined
      : or(
          gt(trials.startedUtcMs, last.startedUtcMs),
          and(eq(trials.startedUtcMs, last.startedUtcMs), gt(trials.id, last.id)),
        );
  const page = await db
    .select({
      id: trials.id,
      sessionId: trials.sessionId,
      task: trials.task,
      startedUtcMs: trials.startedUtcMs,
      version: trials.version,
      discarded: trials.discarded,
      tags: trials.tags,
      note: trials.note,
    })
    .from(trials)
    .innerJoin(sessions, eq(trials.sessionId, sessions.id))
    .where(and(eq(sessions.athleteId, athleteId), eq(trials.state, 'final'), isLater))
    .orderBy(asc(trials.startedUtcMs), asc(trials.id))
    .limit(TRIALS_PER_PAGE);
  if (page.length === 0) return [];
  const ids = page.map(({ id }) => id);
  const rows = await db.select().from(trialMetrics).where(inArray(trialMetrics.trialId, ids));
  return page.map((trial) => ({
    ...trial,
    metrics: STANCE_METRIC_KEYS.flatMap((metric): TrialDifferences['metrics'] => {
      const row = rows.find((each) => each.trialId === trial.id && each.metric === metric);
      return row ? [[metric, toAsymmetry(row)]] : [];
    }),
  }));
}
