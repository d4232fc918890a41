/** Left against right per metric, as rows. */
import { eq } from 'drizzle-orm';
import { STANCE_METRIC_KEYS } from '@ambipede/shared';
import type { MetricAsymmetry, StanceMetricKey } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { trialMetrics } from './schema/index.ts';

type Asymmetry = Partial<Record<StanceMetricKey, MetricAsymmetry>>;

export function metricRows(trialId: string, asymmetry: Asymmetry): (typeof trialMetrics.$inferInsert)[] {
  return STANCE_METRIC_KEYS.flatMap((metric) => {
    const found = asymmetry[metric];
    return found ? [toRow(trialId, metric, found)] : [];
  });
}

export async function listTrialMetrics(db: DbOrTx, trialId: string): Promise<Asymmetry> {
  const rows = await db.select().from(trialMetrics).where(eq(trialMetrics.trialId, trialId));
  const byMetric = new Map(rows.map((row) => [row.metric, toAsymmetry(row)]));
  // In the order of the catalogue, so that the answer is the same every time.
  return Object.fromEntries(
    STANCE_METRIC_KEYS.flatMap((metric) => {
      const found = byMetric.get(metric);
      return found ? [[metric, found]] : [];
    }),
  );
}

function toRow(trialId: string, metric: StanceMetricKey, from: MetricAsymmetry): typeof trialMetrics.$inferInsert {
  return {
    trialId,
    metric,
    leftN: from.left.n,
    leftMean: from.left.mean,
    leftSd: from.left.sd,
    rightN: from.right.n,
    rightMean: from.right.mean,
    rightSd: from.right.sd,
    difference: from.difference,
    ciLow: from.ci95?.[0] ?? null,
    ciHigh: from.ci95?.[1] ?? null,
    missingLeft: from.missingStances.left,
    missingRight: from.missingStances.right,
    verdict: from.verdict,
    placementUncertainty: from.placementUncertainty ?? null,
  };
}

export function toAsymmetry(row: typeof trialMetrics.$inferSelect): MetricAsymmetry {
  return {
    left: { n: row.leftN, mean: row.leftMean, sd: row.leftSd },
    right: { n: row.rightN, mean: row.rightMean, sd: row.rightSd },
    difference: row.difference,
    ci95: row.ciLow === null || row.ciHigh === null ? null : [row.ciLow, row.ciHigh],
    missingStances: { left: row.missingLeft, right: row.missingRight },
    verdict: row.verdict,
    ...(row.placementUncertainty !== null && { placementUncertainty: row.placementUncertainty }),
  };
}
