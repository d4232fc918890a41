/** One metric over the task ladder (BIOMECHANICS 3): each rung of the newest session that has it. */
import { LADDER_TASKS, STANCE_RUNGS } from '@ambipede/shared';
import type { LadderRung, LadderTask, StanceMetricKey, StanceRung, TaskLadder } from '@ambipede/shared';
import { sessionDifferences, type TrialDifference } from './session-difference.ts';
import { restingLeanRung, singleLegRung, type StandTrial } from './ladder-stands.ts';

export interface LadderInput {
  athleteId: string;
  metric: StanceMetricKey;
  /** Final trials of the metric that were not discarded, oldest first. */
  trials: readonly (TrialDifference & { task: StanceRung })[];
  stands: readonly StandTrial[];
}

export function taskLadder({ athleteId, metric, trials, stands }: LadderInput): TaskLadder {
  const rungOf = (task: LadderTask): LadderRung => {
    if (task === 'stand') return restingLeanRung(metric, stands);
    if (task === 'single-leg-stand') return singleLegRung(metric, stands);
    const newest = sessionDifferences(trials.filter((trial) => trial.task === task)).at(-1);
    return newest ? { task, state: 'difference', ...newest } : { task, state: 'not measured' };
  };
  const rungs = LADDER_TASKS.map(rungOf);
  return { athleteId, metric, rungs, remarks: remarksOn(rungs) };
}

/** What a ladder asks the store for. */
export function ladderPairs(metric: StanceMetricKey): { task: StanceRung; metric: StanceMetricKey }[] {
  return STANCE_RUNGS.map((task) => ({ task, metric }));
}

function remarksOn(rungs: readonly LadderRung[]): string[] {
  const measured = rungs.flatMap((rung) => ('version' in rung ? [rung] : []));
  const remarks: string[] = [];
  const versions = [...new Set(measured.map(({ version }) => version))];
  if (versions.length > 1)
    remarks.push(`The tasks were analysed by different versions (${versions.join(', ')}): do not compare those.`);
  if (new Set(measured.map(({ sessionId }) => sessionId)).size > 1)
    remarks.push('The tasks are of different sessions: see their dates.');
  if (rungs.some(({ state }) => state === 'difference of stands'))
    remarks.push('In a single-leg stand the value is the mean over the time held, not the largest.');
  return remarks;
}
