/**
 * The HTTP API, JSON. Errors: {error: {code, message}} with a message that says what to do.
 *
 *   GET  /api/athletes                       AthleteSummary[]
 *   POST /api/athletes        NewAthlete  -> AthleteSummary
 *   GET  /api/sensors                        KnownSensor[]
 *   PUT  /api/sensors/:deviceId  SensorPlacement -> KnownSensor
 *   POST /api/sessions        {athleteId} -> SessionView
 *   GET  /api/sessions/:id                   SessionView
 *   POST /api/sessions/:id/end            -> SessionView
 *   POST /api/sessions/:id/lead-in/:step/start | /stop    -> SessionView
 *   POST /api/sessions/:id/trials   {task} -> TrialSummary
 *   POST /api/trials/:id/stop             -> TrialSummary     (re-analysis follows; `state` says when it is final)
 *   GET  /api/trials/:id                     TrialView
 *   GET  /api/trials/:id/result              AnalysisResult (final)
 *   GET  /api/athletes/:id/trials            TrialSummary[] newest first
 *   GET  /api/athletes/:id/history?metric=K  HistoryPoint[] oldest first
 */
import type { LeadInStep, Place, Task } from './body.ts';
import type { StanceMetricKey } from './metrics.ts';
import type { AnalysisQuality, MetricAsymmetry, MountingReport, Stance } from './results.ts';
import type { SensorStatus } from './live.ts';

export interface NewAthlete {
  name: string;
}

export interface AthleteSummary {
  id: string;
  name: string;
  sensors: SensorStatus[];
  openSessionId: string | null;
  lastTrialUtcMs: number | null;
  trialCount: number;
}

export interface SensorPlacement {
  athleteId: string | null;
  place: Place;
}

export interface KnownSensor {
  deviceId: string;
  athleteId: string | null;
  place: Place | null;
  lastSeenUtcMs: number | null;
}

export interface SessionView {
  id: string;
  athleteId: string;
  startedUtcMs: number;
  endedUtcMs: number | null;
  leadInStep: LeadInStep | null;
  leadIn: { step: LeadInStep; startUtcMs: number; endUtcMs: number | null }[];
  mounting: Partial<Record<Place, MountingReport>>;
  trials: TrialSummary[];
}

/** `running`: live. `re-analysing`: stopped, final result being made. `final`. `failed`: see `problem`; raw data is kept. */
export type TrialState = 'running' | 're-analysing' | 'final' | 'failed';

export interface TrialSummary {
  id: string;
  sessionId: string;
  athleteId: string;
  task: Task;
  state: TrialState;
  startedUtcMs: number;
  endedUtcMs: number | null;
  stanceCount: { left: number; right: number };
  /** Version of the algorithm and parameters that made the stored result. */
  version: string | null;
  problem: string | null;
}

export interface TrialView extends TrialSummary {
  stances: Stance[];
  asymmetry: Partial<Record<StanceMetricKey, MetricAsymmetry>>;
  quality: AnalysisQuality | null;
}

export interface HistoryPoint {
  trialId: string;
  task: Task;
  utcMs: number;
  version: string;
  asymmetry: MetricAsymmetry;
}

export interface ApiError {
  error: { code: string; message: string };
}
