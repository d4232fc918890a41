/**
 * The way of an athlete back to training after an injury: what a physio wants to see, how that stands today, and what people
 * decided. The program decides nothing and clears nobody.
 *
 *   GET    /api/athletes/:id/return-episodes                     ReturnEpisode[] latest onset first
 *   POST   /api/athletes/:id/return-episodes   NewReturnEpisode -> ReturnEpisode
 *   GET    /api/athletes/:id/return-episodes/:episodeId          ReturnEpisodeView
 *   PATCH  /api/athletes/:id/return-episodes/:episodeId   ReturnEpisodeChange -> ReturnEpisode
 *   POST   .../:episodeId/criteria             NewReturnCriterion -> ReturnCriterion
 *   PATCH  .../:episodeId/criteria/:criterionId   ReturnCriterionChange -> ReturnCriterion
 *   DELETE .../:episodeId/criteria/:criterionId   -> {id}
 *   POST   .../:episodeId/decisions            NewReturnDecision -> ReturnDecision   (never changed or removed)
 */
import type { Side } from './body.ts';
import type { SessionDifference, StanceRung } from './history.ts';
import type { StanceMetricKey } from './metrics.ts';

/** What today is held against: the athlete's own sessions before the onset, or the other side, which is weaker. */
export const RETURN_BASELINES = ['before the injury', 'unaffected side'] as const;
export type ReturnBaseline = (typeof RETURN_BASELINES)[number];

export const RETURN_QUESTION_CHARACTERS_MAX = 1000;
export const RETURN_DECISION_CHARACTERS_MAX = 2000;
export const RETURN_CRITERIA_MAX = 20;
export const RETURN_SESSIONS_IN_A_ROW_MAX = 10;
/** No more are reckoned and shown per criterion: the newest. */
export const RETURN_SESSIONS_SHOWN_MAX = 20;
/** Far above any metric's range, in any of their units. */
export const RETURN_LIMIT_MAX = 1e6;

export interface ReturnEpisode {
  id: string;
  athleteId: string;
  onsetUtcMs: number;
  affectedSide: Side;
  /** What is to be decided, in the physio's words. */
  question: string;
  baseline: ReturnBaseline;
  createdUtcMs: number;
}
export type NewReturnEpisode = Pick<ReturnEpisode, 'onsetUtcMs' | 'affectedSide' | 'question' | 'baseline'>;
/** What is not named stays as it is. */
export type ReturnEpisodeChange = Partial<NewReturnEpisode>;

export interface ReturnCriterion {
  id: string;
  episodeId: string;
  task: StanceRung;
  metric: StanceMetricKey;
  /** Above 0, in the metric's unit: how far the left-right difference may lie from the baseline, to either side. */
  limit: number;
  /** That many of the newest sessions have to be within the limit, one after the other. */
  sessionsInARow: number;
  createdUtcMs: number;
}
export type NewReturnCriterion = Pick<ReturnCriterion, 'task' | 'metric' | 'limit' | 'sessionsInARow'>;
/** What is not named stays as it is. */
export type ReturnCriterionChange = Partial<NewReturnCriterion>;

export interface ReturnDecision {
  id: string;
  episodeId: string;
  /** When it was recorded, by the server's clock. */
  decidedUtcMs: number;
  /** As typed. */
  deciderName: string;
  /** Who was signed in when it was recorded; null where there were no accounts. */
  recordedByName: string | null;
  /** In the decider's words: return is a continuum, not a switch (Ardern et al. 2016). */
  decision: string;
  reason: string;
  /** How the criteria stood when it was recorded, the most limiting first; null where an earlier version kept nothing. */
  criteria: CriterionThen[] | null;
}
export type NewReturnDecision = Pick<ReturnDecision, 'deciderName' | 'decision' | 'reason'>;

/** What the difference of each session is held against. `why` is a plain sentence. */
export type ReturnReference =
  | { basis: 'before the injury'; sessions: number; mean: number; standardError: number }
  | { basis: 'unaffected side'; weaker: true; why: string };

/** One session since the onset, against the limit. */
export interface ReturnSession extends Pick<
  SessionDifference,
  'sessionId' | 'utcMs' | 'n' | 'tooFewStances' | 'placementUncertainty'
> {
  answer: 'within' | 'outside' | 'cannot tell';
  /** Left - right, in the metric's unit; null where too few stances give none. */
  difference: number | null;
  /** Difference minus the reference. */
  change: number | null;
  /** Of the change; the whole of it lies within the limit, or beyond it, or nothing can be told. */
  ci90: [number, number] | null;
}

export type ReturnState = 'within' | 'outside' | 'cannot tell' | 'not measured';

/** What it would take for an answer: an estimate, if all stays as it is today. */
export interface ReturnMissing {
  unit: 'stances a side' | 'sessions';
  /** Null where more of them would not help: `why` says what would. */
  count: number | null;
}

/** How a criterion stands today. It is no clearance. */
export interface ReturnCriterionState extends ReturnCriterion {
  state: ReturnState;
  /** Of the newest session, which may be long ago; null where there is none. */
  newestUtcMs: number | null;
  /** Sessions of `sessions` within the limit one after the other, the newest last. */
  withinInARow: number;
  missing: ReturnMissing | null;
  /** Plain sentence. */
  why: string;
  /** Null while nothing is measured since the onset. */
  reference: ReturnReference | null;
  /** Of the sessions that are compared; null where there is none. */
  version: string | null;
  /** Oldest first, since the onset, of that version: the newest `RETURN_SESSIONS_SHOWN_MAX`. */
  sessions: ReturnSession[];
  /** Plain sentences: what was left out. */
  remarks: string[];
}

/** What a decision was made upon: a criterion and its state at that moment. */
export interface CriterionThen extends Pick<
  ReturnCriterionState,
  'task' | 'metric' | 'limit' | 'sessionsInARow' | 'state' | 'withinInARow' | 'newestUtcMs' | 'version' | 'why'
> {
  /** Of the newest session: difference minus reference, in the metric's unit; null where there is none. */
  change: number | null;
  ci90: [number, number] | null;
}

export interface ReturnEpisodeView extends ReturnEpisode {
  /** The most limiting one first. */
  criteria: ReturnCriterionState[];
  /** Oldest first. */
  decisions: ReturnDecision[];
  /** To be shown with the states (BIOMECHANICS 8). */
  cautions: readonly string[];
}
