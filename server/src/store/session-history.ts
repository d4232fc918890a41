/** What the history of metrics and tasks is made of. */
import { sql as query } from 'drizzle-orm';
import type { StanceMetricKey, StanceRung } from '@ambipede/shared';
import type { TrialDifference } from '../history/session-difference.ts';
import { arrayLiteral } from './array-literal.ts';
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
  const isAsked = query.join(
    productsOf(pairs).map(
      ({ tasks, metrics }) =>
        query`(${trials.task} = any(${arrayLiteral(tasks)}::text[]) and ${trialMetrics.metric} = any(${arrayLiteral(metrics)}::text[]))`,
    ),
    query` or `,
  );
  // Without the mapping of a select, which takes as long as the query where there are thousands of rows.
  const rows = await db.execute<Row>(query`
    select ${trials.sessionId}, ${sessions.startedUtcMs}, ${trials.version}, ${trials.task}, ${trialMetrics.metric},
      ${trialMetrics.leftN}, ${trialMetrics.rightN}, ${trialMetrics.difference}, ${trialMetrics.ciLow}, ${trialMetrics.ciHigh},
      ${trialMetrics.placementUncertainty}
    from ${sessions}
    join ${trials} on ${trials.sessionId} = ${sessions.id}
    join ${trialMetrics} on ${trialMetrics.trialId} = ${trials.id}
    where ${sessions.athleteId} = ${athleteId} and (${isAsked}) and ${trials.state} = 'final' and not ${trials.discarded}
    order by ${sessions.startedUtcMs}, ${trials.startedUtcMs}, ${trials.id}`);
  return rows.map((row) => ({
    sessionId: row.session_id,
    sessionUtcMs: Number(row.started_utc_ms),
    version: row.version ?? '',
    task: row.task,
    metric: row.metric,
    leftN: row.left_n,
    rightN: row.right_n,
    difference: row.difference,
    ci95: row.ci_low === null || row.ci_high === null ? null : [row.ci_low, row.ci_high],
    placementUncertainty: row.placement_uncertainty,
  }));
}

interface Row extends Record<string, unknown> {
  session_id: string;
  /** A bigint comes as text. */
  started_utc_ms: string;
  version: string | null;
  /** Only tasks that were asked for come back. */
  task: StanceRung;
  metric: StanceMetricKey;
  left_n: number;
  right_n: number;
  difference: number | null;
  ci_low: number | null;
  ci_high: number | null;
  placement_uncertainty: number | null;
}

/**
 * The same pairs as few products of tasks and metrics: of each row the database then compares two values with two lists, instead of
 * with every pair.
 */
function productsOf(pairs: readonly TaskMetric[]): { tasks: StanceRung[]; metrics: StanceMetricKey[] }[] {
  const tasksOf = new Map<StanceMetricKey, Set<StanceRung>>();
  for (const { task, metric } of pairs) tasksOf.set(metric, (tasksOf.get(metric) ?? new Set()).add(task));
  const products = new Map<string, { tasks: StanceRung[]; metrics: StanceMetricKey[] }>();
  for (const [metric, tasks] of tasksOf) {
    const key = [...tasks].sort().join();
    const product = products.get(key) ?? { tasks: [...tasks], metrics: [] };
    product.metrics.push(metric);
    products.set(key, product);
  }
  return [...products.values()];
}
