/** The differences of a trial with what says how far they can be trusted, read in one statement: all are of one result. */
import { and, eq } from 'drizzle-orm';
import { STANCE_METRIC_KEYS } from '@ambipede/shared';
import type { AnalysisQuality, MetricAsymmetry, StanceMetricKey } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { trialMetrics, trials } from './schema/index.ts';
import { toAsymmetry } from './trial-metrics.ts';

export interface FinalResult {
  version: string;
  /** False while samples of the trial may still be on their way. */
  dataComplete: boolean;
  /** What is missing from it, in words. */
  problem: string | null;
  discarded: boolean;
  quality: AnalysisQuality | null;
  /** In the order of the catalogue. */
  metrics: [StanceMetricKey, MetricAsymmetry][];
}

/** Null when the trial is not final. */
export async function findFinalResult(db: DbOrTx, id: string): Promise<FinalResult | null> {
  const rows = await db
    .select({
      version: trials.version,
      dataComplete: trials.dataComplete,
      problem: trials.problem,
      discarded: trials.discarded,
      quality: trials.quality,
      metric: trialMetrics,
    })
    .from(trials)
    .leftJoin(trialMetrics, eq(trialMetrics.trialId, trials.id))
    .where(and(eq(trials.id, id), eq(trials.state, 'final')));
  const first = rows[0];
  if (!first || first.version === null) return null;
  const { metric: _metric, version, ...rest } = first;
  return {
    ...rest,
    version,
    metrics: STANCE_METRIC_KEYS.flatMap((key): FinalResult['metrics'] => {
      const row = rows.find(({ metric }) => metric?.metric === key)?.metric;
      return row ? [[key, toAsymmetry(row)]] : [];
    }),
  };
}
