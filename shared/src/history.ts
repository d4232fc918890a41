/**
 * One metric of one task over an athlete's sessions.
 *
 *   GET /api/athletes/:id/session-history?task=T&metric=K   SessionHistory
 */
import type { Annotation } from './annotations.ts';
import type { TaskInfo } from './body.ts';
import type { StanceMetricKey } from './metrics.ts';

/** Tasks whose left and right are compared over stances. */
export const STANCE_RUNGS = ['walk', 'run', 'strides', 'run-up'] as const satisfies readonly TaskInfo['rung'][];
export type StanceRung = (typeof STANCE_RUNGS)[number];

/** A session's trials of the task that one version has analysed, as one difference left - right in the metric's unit. */
export interface SessionDifference {
  sessionId: string;
  utcMs: number;
  version: string;
  difference: number;
  ci95: [number, number];
  /** Trials that went into it, and those without a usable difference, which did not. */
  trials: number;
  trialsLeftOut: number;
  n: { left: number; right: number };
  /** Nothing may be concluded from fewer stances a side: such a session is shown and counts for nothing else. */
  tooFewStances: boolean;
  /** Differences up to this could be the sensors' seat of that day (95 %); null when not known. Not part of `ci95`. */
  placementUncertainty: number | null;
}

export interface HistoryVersion {
  version: string;
  sessions: number;
  /** Baseline, detectable change and trend are over this version's sessions alone. */
  used: boolean;
}

export interface HistoryBaseline {
  /** Sessions before the first injury that is noted, or where none is, all but the newest. */
  basis: 'before the injury' | 'all but the newest session';
  sessions: number;
  /** Null with too few sessions: `missingSessions` says how many more it takes. */
  mean: number | null;
  band: [number, number] | null;
  missingSessions: number;
}

export type HistoryDetectableChange =
  | { basis: 'own sessions'; change: number; sessions: number }
  | { basis: 'published default'; change: number; source: string; missingSessions: number }
  | { basis: 'none'; change: null; missingSessions: number };

export type HistoryTrend =
  | { state: 'too few sessions'; sessions: number; missingSessions: number }
  | {
      state: 'rising' | 'falling' | 'no trend shown';
      sessions: number;
      slopePerDay: number;
      ci95: [number, number];
      coverage: number;
    };

export interface SessionHistory {
  athleteId: string;
  task: StanceRung;
  metric: StanceMetricKey;
  /** Oldest first, of every version. */
  sessions: SessionDifference[];
  /** The newest session's version is the one that is used. */
  versions: HistoryVersion[];
  baseline: HistoryBaseline;
  detectableChange: HistoryDetectableChange;
  trend: HistoryTrend;
  annotations: Annotation[];
  /** Plain sentences: what was left out, and what to do about it. */
  remarks: string[];
}
