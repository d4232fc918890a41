/**
 * All stored trials analysed again with this server's version, from the durable raw samples, while the server runs. A trial
 * keeps the result that it has until the new one is stored, and for good when there can be no new one.
 *
 *   GET  /api/re-analysis                           ReAnalysisView        keeper, coach, physio
 *   POST /api/re-analysis         NewReAnalysis -> ReAnalysisView (202)  keeper; 409 while one is under way
 *   POST /api/re-analysis/cancel                 -> ReAnalysisView (202)  keeper; the trial in hand is still done. 409 when there is none
 */

/** `outdated`: trials without a result of this version. `all`: also those that have one. */
export const RE_ANALYSIS_SCOPES = ['outdated', 'all'] as const;
export type ReAnalysisScope = (typeof RE_ANALYSIS_SCOPES)[number];

export interface NewReAnalysis {
  scope: ReAnalysisScope;
}

/** `superseded`: a server of another version was started meanwhile. Nothing goes on with it. */
export type ReAnalysisState = 'running' | 'done' | 'cancelled' | 'superseded';

/** Of the newest failures of a run, so many are kept, in memory. */
export const RE_ANALYSIS_FAILURES_MAX = 50;

/** A trial that keeps what it had. */
export interface ReAnalysisFailure {
  trialId: string;
  /** Plain sentence. */
  reason: string;
}

export interface ReAnalysisRun {
  id: string;
  /** Of the results that it makes. */
  version: string;
  scope: ReAnalysisScope;
  state: ReAnalysisState;
  startedUtcMs: number;
  /** Null while it is under way. */
  endedUtcMs: number | null;
  /** Trials to be analysed, as counted at the start. Those that got a newer result otherwise are in it, and may be in no other count. */
  trialsTotal: number;
  done: number;
  failed: number;
  /** Estimate in seconds from the pace so far; null when not under way, or before the first trial since the server started. */
  remainingS: number | null;
  /** Newest first, since the server started: fewer than `failed` after a restart or above `RE_ANALYSIS_FAILURES_MAX`. */
  failures: ReAnalysisFailure[];
}

export interface ReAnalysisView {
  /** Of this server's results. */
  version: string;
  /** Ended trials without a result of this version, discarded ones too. */
  outdatedTrials: number;
  /** Of these, trials that have no result at all: the analysis failed. */
  withoutResult: number;
  /** The one under way, else the newest; null when there was none. */
  run: ReAnalysisRun | null;
}
