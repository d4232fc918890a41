/** Messages from the server to a dashboard over the live socket, JSON text frames. Path: /live?athlete=<athleteId>. */
import type { LeadInStep, Place, Side, Task } from './body.ts';
import type { StanceMetricKey } from './metrics.ts';
import type { Contact, MetricAsymmetry, MountingReport, Stance } from './results.ts';
import type { TaskSummary } from './tasks.ts';
import type { Waveform, WaveformKey } from './waveforms.ts';

/** What a sensor is doing, as judged by the server's clock at `serverUtcMs` of the message. */
export type SensorCondition =
  | 'streaming' // newest sample is recent
  | 'catching-up' // connected, but the newest sample is old and getting younger
  | 'silent' // connected, nothing arriving
  | 'disconnected' // no socket
  | 'never-seen';

export interface SensorStatus {
  deviceId: string;
  place: Place;
  condition: SensorCondition;
  /** Age of the newest sample in seconds; null before the first. */
  behindS: number | null;
  /** Samples known missing in this session. */
  lostSamples: number;
  receivedSamples: number;
  batteryPercent: number | null;
  /** Residual of the clock fit in ms (one standard deviation); null before the fit. */
  clockResidualMs: number | null;
}

export type LiveMessage =
  | { type: 'hello'; serverUtcMs: number; version: string; athleteId: string }
  | { type: 'session'; session: LiveSession | null }
  | { type: 'sensors'; serverUtcMs: number; sensors: SensorStatus[] }
  /** Newest angles, about 20 messages a second; times in ms UTC; null is a gap and must be drawn as one. */
  | {
      type: 'angles';
      utcMs: number[];
      pelvicObliquityDeg: (number | null)[];
      trunkLateralTiltDeg: (number | null)[];
    }
  /** A stance of the running trial; the same id with a higher revision replaces it; `withdrawn` removes it. */
  | { type: 'stance'; trialId: string; stance: Stance; provisional: true; withdrawn: boolean }
  | {
      type: 'asymmetry';
      trialId: string;
      /** Live numbers are provisional; after the trial's re-analysis from stored raw data they are final. */
      provisional: boolean;
      metrics: Partial<Record<StanceMetricKey, MetricAsymmetry>>;
    }
  /** What the running task says so far, about twice a second while new samples come; none for walking and running. */
  | ({ type: 'task' } & LiveTask)
  /** Angles over the stances so far, at most twice a second and only when they changed. */
  | { type: 'waveforms'; trialId: string; provisional: true; waveforms: LiveWaveforms }
  | { type: 'mounting'; mounting: Partial<Record<Place, MountingReport>> }
  /** Every 500 ms while connected. No heartbeat for 1500 ms: the page must say that what it shows is old. */
  | { type: 'heartbeat'; serverUtcMs: number };

export interface LiveSession {
  sessionId: string;
  startedUtcMs: number;
  /** Lead-in step or task under way. */
  leadInStep: LeadInStep | null;
  trial: { trialId: string; task: Task; startedUtcMs: number } | null;
}

export interface LiveTask {
  trialId: string;
  provisional: true;
  /** Of the first and the newest frame looked at: a later start than the trial's means that only its last part counts. */
  fromUtcMs: number;
  utcMs: number;
  now: TaskNow;
  /**
   * In the shape of the final result, of this task alone. Times: seconds since the session's start. Which side of the chest
   * leads, and remarks, come with the final result.
   */
  summary: TaskSummary;
}

/** What changes from moment to moment; null where not known. */
export type TaskNow =
  | {
      kind: 'standing';
      /** Mean tilt of the last second from the reference stand, + right side up; null without a reference stand. */
      leanDeg: { pelvis: number | null; trunk: number | null };
      /** Longest time without a step or a hop. */
      heldS: number;
      /** Bursts of lateral tilt towards each side of the athlete, within that time. */
      corrections: { left: number; right: number } | null;
    }
  /** Newest last. */
  | { kind: 'run-up'; contacts: Contact[] }
  | { kind: 'landing' }
  | {
      kind: 'half-turn';
      /** Chest against pelvis about the vertical since the last still moment, + chest turned to the left. */
      separationDeg: number | null;
      /** The furthest that the chest got to either side of the pelvis in one turn; 0 or more. */
      largestSeparationDeg: { left: number; right: number } | null;
    };

/** The angles over the stance that are shown live: height of the free side of the pelvis, lean over the standing foot. */
export const LIVE_WAVEFORM_KEYS = ['swingSideHeightDeg', 'leanToStanceDeg'] as const satisfies readonly WaveformKey[];
export type LiveWaveforms = Record<Side, Record<(typeof LIVE_WAVEFORM_KEYS)[number], Waveform | null>>;

export const HEARTBEAT_INTERVAL_MS = 500;
/** A dashboard that has heard nothing for this long marks everything on screen as old. */
export const STALE_AFTER_MS = 1500;

/** Why the server closes the live socket. From 4000 on (private use, RFC 6455, section 7.4.2) the reason is a sentence for people. */
export const LIVE_CLOSE = {
  serverStops: 1001,
  /** Trying again would not help. */
  noSuchAthlete: 4404,
  /** Nobody is signed in, or no longer. */
  notSignedIn: 4401,
  /** Whoever is signed in may no longer see this athlete. Trying again would not help. */
  notAllowed: 4403,
  /** The dashboard did not keep up: it connects again and gets the state as it is then. */
  tooSlow: 4408,
  tooManyViewers: 4429,
} as const;
/** Close codes of our own begin here. */
export const LIVE_CLOSE_OWN_MIN = 4000;
