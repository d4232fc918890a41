/**
 * One metric from task to task, from quiet stand to run-up: does the one-sidedness carry?
 *
 *   GET /api/athletes/:id/ladder?metric=K   TaskLadder
 */
import type { TaskInfo } from './body.ts';
import type { SessionDifference } from './history.ts';
import type { StanceMetricKey } from './metrics.ts';

/** From simple to hard. */
export const LADDER_TASKS = [
  'stand',
  'single-leg-stand',
  'walk',
  'run',
  'strides',
  'run-up',
] as const satisfies readonly TaskInfo['rung'][];
export type LadderTask = (typeof LADDER_TASKS)[number];

/** Of the newest session that has it: its date says how old that is. */
interface Measured {
  sessionId: string;
  utcMs: number;
  version: string;
}

export type LadderRung = { task: LadderTask } & (
  | ({ state: 'difference' } & SessionDifference)
  /** Single-leg stands, one value each: left - right of their means. The interval is null with fewer than two a side. */
  | ({
      state: 'difference of stands';
      difference: number;
      ci95: [number, number] | null;
      n: { left: number; right: number };
      tooFewStances: boolean;
    } & Measured)
  /** A stand on both feet has no left and right: the mean lean, + right side up. A standard uncertainty, null when not known. */
  | ({
      state: 'resting lean';
      segment: 'pelvis' | 'trunk';
      leanDeg: number;
      uncertaintyDeg: number | null;
      /** Stands of the session. */
      n: number;
    } & Measured)
  | { state: 'not measured' }
  /** The metric does not exist in this task. */
  | { state: 'no such value' }
);

export interface TaskLadder {
  athleteId: string;
  metric: StanceMetricKey;
  /** Every task of `LADDER_TASKS`, in its order. */
  rungs: LadderRung[];
  /** Plain sentences: what keeps rungs from being compared. */
  remarks: string[];
}
