/**
 * The HTTP API, JSON. Errors: {error: {code, message}} with a message that says what to do.
 *
 *   GET  /api/athletes                       AthleteSummary[]
 *   POST /api/athletes        NewAthlete  -> AthleteSummary
 *   PATCH /api/athletes/:id   AthleteChange -> AthleteSummary
 *   GET  /api/sensors                        KnownSensor[]
 *   PUT  /api/sensors/:deviceId  SensorPlacement -> KnownSensor
 *   POST   /api/sensors/:deviceId/enrolment -> SensorEnrolment   (a new token; an earlier one stops at once)
 *   DELETE /api/sensors/:deviceId/enrolment -> KnownSensor       (its token stops at once)
 *   GET  /api/refused-sensors                RefusedSensor[] refused last first
 *   POST /api/sessions        {athleteId} -> SessionView
 *   GET  /api/sessions/:id                   SessionView
 *   POST /api/sessions/:id/end            -> SessionView
 *   POST /api/sessions/:id/lead-in/:step/start | /stop    -> SessionView
 *   POST /api/sessions/:id/trials   {task} -> TrialSummary
 *   POST /api/trials/:id/stop             -> TrialSummary     (re-analysis follows; `state` says when it is final)
 *   PATCH /api/trials/:id     TrialChange -> TrialSummary
 *   GET  /api/trials/:id                     TrialView
 *   GET  /api/trials/:id/waveforms           TrialWaveforms (final)
 *   GET  /api/trials/:id/result              AnalysisResult (final)
 *   GET  /api/athletes/:id/trials            TrialSummary[] newest first, discarded ones too
 *   GET  /api/athletes/:id/history?metric=K  HistoryPoint[] oldest first, without discarded trials
 *   Files for other programs: docs/exchange.md. Recordings from elsewhere: imports.ts.
 *   Annotations: annotations.ts. History by session: history.ts. Return to training: return-episode.ts.
 *   From task to task: ladder.ts. Two sessions: comparison.ts. All trials analysed again: re-analysis.ts.
 */
import type { LeadInStep, Place, Side, Task } from './body.ts';
import type { StanceMetricKey } from './metrics.ts';
import type { AnalysisQuality, MetricAsymmetry, MountingReport, Stance } from './results.ts';
import type { SensorStatus } from './live.ts';
import type { TaskSummary } from './tasks.ts';
import type { Waveforms } from './waveforms.ts';

/** What is known of an athlete besides the measurements; null where nobody has said. */
export interface AthleteDetails {
  name: string;
  /** kg, `BODY_MASS_KG_MIN` to `BODY_MASS_KG_MAX`. A trial keeps the one that held when it started. */
  bodyMassKg: number | null;
  dominantHand: Side | 'both' | null;
  preferredTakeOffFoot: Side | null;
  notes: string;
}
export type NewAthlete = Pick<AthleteDetails, 'name'> & Partial<AthleteDetails>;
/** What is not named stays as it is. */
export type AthleteChange = Partial<AthleteDetails>;

export const NAME_CHARACTERS_MAX = 120;
export const BODY_MASS_KG_MIN = 15;
export const BODY_MASS_KG_MAX = 250;
export const ATHLETE_NOTES_CHARACTERS_MAX = 4000;

export interface AthleteSummary extends AthleteDetails {
  id: string;
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
  /** Whether it has a token; without one the server takes nothing from it. */
  enrolled: boolean;
}

/** The only answer that ever holds a token: the server keeps its hash. */
export interface SensorEnrolment {
  deviceId: string;
  /** 64 hexadecimal digits. A device puts these characters, as ASCII bytes, into the token of its hello. */
  token: string;
}

/** A device that was turned away since the server started, and has not been let in or enrolled since. */
export interface RefusedSensor {
  deviceId: string;
  /** Of the last attempt. */
  reason: 'not-enrolled' | 'no-token' | 'wrong-token';
  attempts: number;
  lastUtcMs: number;
}

export interface SessionView {
  id: string;
  athleteId: string;
  startedUtcMs: number;
  endedUtcMs: number | null;
  /** Name of the file that it was imported from; null: its sensors streamed. */
  importedFrom?: string | null;
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
  /** Of its session: the file that it was imported from; null or absent: its sensors streamed. */
  importedFrom?: string | null;
  task: Task;
  state: TrialState;
  startedUtcMs: number;
  endedUtcMs: number | null;
  stanceCount: { left: number; right: number };
  /** Version of the algorithm and parameters that made the stored result. */
  version: string | null;
  problem: string | null;
  /** Of the athlete when the trial started; forces are computed with it, now and whenever it is analysed again. */
  bodyMassKg: number | null;
  tags: string[];
  note: string;
  /** Left out of the history; all its data is kept. */
  discarded: boolean;
}

/** What is not named stays as it is; `tags` replaces them all. */
export type TrialChange = Partial<Pick<TrialSummary, 'tags' | 'note' | 'discarded'>>;

export const TRIAL_TAGS_MAX = 10;
export const TRIAL_TAG_CHARACTERS_MAX = 40;
export const TRIAL_NOTE_CHARACTERS_MAX = 2000;

export interface TrialView extends TrialSummary {
  stances: Stance[];
  asymmetry: Partial<Record<StanceMetricKey, MetricAsymmetry>>;
  quality: AnalysisQuality | null;
  /** Null until the result is final. */
  taskSummary: TaskSummary | null;
}

export interface TrialWaveforms {
  trialId: string;
  /** Of the algorithm and parameters that made them. */
  version: string;
  waveforms: Waveforms;
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
