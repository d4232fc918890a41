/** Sessions with final trials, straight into the store. */
import type { StanceMetricKey, Task, TaskSummary } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { saveResult } from '../../server/src/store/save-result.ts';
import { createSession, endSession } from '../../server/src/store/sessions.ts';
import { closeTrial, createTrial } from '../../server/src/store/trials.ts';
import { makeAsymmetry, makeResult } from './sample-result.ts';

export interface StoredTrial {
  task: Task;
  /** Of `metric`, with a 95 % interval of +-1; without it the trial has no metrics. */
  difference?: number;
  metric?: StanceMetricKey;
  version?: string;
  placementUncertainty?: number;
  taskSummary?: Partial<TaskSummary>;
}

export async function storeSession(
  { db }: Database,
  athleteId: string,
  startUtcMs: number,
  trials: readonly StoredTrial[],
): Promise<{ sessionId: string; trialIds: string[] }> {
  const session = await createSession(db, athleteId, {}, startUtcMs);
  const trialIds: string[] = [];
  for (const [k, trial] of trials.entries()) {
    const { id: trialId } = await createTrial(db, session, trial.task, startUtcMs + k);
    await closeTrial(db, trialId, startUtcMs + k + 1);
    await saveResult(db, trialId, resultOf(trial), { dataComplete: true, problem: null });
    trialIds.push(trialId);
  }
  await endSession(db, session.id, startUtcMs + 100);
  return { sessionId: session.id, trialIds };
}

function resultOf({
  difference,
  metric = 'swingSideDropDeg',
  version,
  placementUncertainty,
  taskSummary,
}: StoredTrial) {
  const result = makeResult();
  const asymmetry =
    difference === undefined
      ? {}
      : {
          [metric]: makeAsymmetry({
            difference,
            ci95: [difference - 1, difference + 1],
            ...(placementUncertainty !== undefined && { placementUncertainty }),
          }),
        };
  return {
    ...result,
    asymmetry,
    version: version ?? result.version,
    taskSummary: { ...result.taskSummary, ...taskSummary },
  };
}
