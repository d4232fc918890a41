/** The one place that speaks HTTP with the server. Failures carry a sentence that can be shown as it is. */
import type {
  Annotation,
  AnnotationChange,
  ApiError,
  AthleteChange,
  AthleteSummary,
  HistoryPoint,
  KnownSensor,
  LeadInStep,
  NewAnnotation,
  NewAthlete,
  RefusedSensor,
  SensorEnrolment,
  SensorPlacement,
  SessionComparison,
  SessionHistory,
  SessionView,
  StanceMetricKey,
  StanceRung,
  Task,
  TaskLadder,
  TrialChange,
  TrialSummary,
  TrialView,
  TrialWaveforms,
} from '@ambipede/shared';
import { TEXTS } from './texts.ts';

export const REQUEST_TIMEOUT_MS = 10_000;

/** `offline`: no answer at all, so trying again is worthwhile. */
export class ApiFailure extends Error {
  readonly code: string;
  readonly offline: boolean;

  constructor(code: string, message: string, offline: boolean) {
    super(message);
    this.name = 'ApiFailure';
    this.code = code;
    this.offline = offline;
  }
}

let heed: (code: string, askedMs: number) => void = () => undefined;

let askedUtcMs = Date.now();

/** When this page last asked the server for anything, ms UTC by the clock of the device. */
export function lastAskedUtcMs(): number {
  return askedUtcMs;
}

/** Of every error that the server answers with `listener` is told its code, and when it was asked (ms of `performance.now()`). */
export function onRefusal(listener: typeof heed): void {
  heed = listener;
}

export async function request<T>(
  method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE',
  path: string,
  body?: unknown,
): Promise<T> {
  const sent =
    body === undefined ? {} : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) };
  return exchange(path, { method, ...sent });
}

/** As `request`, with a body of any type and the time that it may take. */
export async function exchange<T>(path: string, init: RequestInit, timeoutMs = REQUEST_TIMEOUT_MS): Promise<T> {
  const askedMs = performance.now();
  askedUtcMs = Date.now();
  let response: Response;
  let text: string;
  try {
    response = await fetch(path, { signal: AbortSignal.timeout(timeoutMs), ...init });
    text = await response.text();
  } catch (cause) {
    const timedOut = cause instanceof DOMException && cause.name === 'TimeoutError';
    throw new ApiFailure(
      timedOut ? 'timeout' : 'unreachable',
      timedOut ? TEXTS.api.timeout : TEXTS.api.unreachable,
      true,
    );
  }
  let answer: unknown;
  try {
    answer = JSON.parse(text);
  } catch {
    throw new ApiFailure('unreadable', TEXTS.api.unreadable(response.status), response.status >= 502);
  }
  if (response.ok) return answer as T;
  const error = (answer as Partial<ApiError>).error;
  if (error !== undefined) heed(error.code, askedMs);
  throw new ApiFailure(error?.code ?? 'unreadable', error?.message ?? TEXTS.api.unreadable(response.status), false);
}

const at = encodeURIComponent;

export const api = {
  athletes: () => request<AthleteSummary[]>('GET', '/api/athletes'),
  addAthlete: (athlete: NewAthlete) => request<AthleteSummary>('POST', '/api/athletes', athlete),
  changeAthlete: (id: string, change: AthleteChange) =>
    request<AthleteSummary>('PATCH', `/api/athletes/${at(id)}`, change),
  sensors: () => request<KnownSensor[]>('GET', '/api/sensors'),
  placeSensor: (deviceId: string, placement: SensorPlacement) =>
    request<KnownSensor>('PUT', `/api/sensors/${at(deviceId)}`, placement),
  enrolSensor: (deviceId: string) => request<SensorEnrolment>('POST', `/api/sensors/${at(deviceId)}/enrolment`),
  revokeSensor: (deviceId: string) => request<KnownSensor>('DELETE', `/api/sensors/${at(deviceId)}/enrolment`),
  refusedSensors: () => request<RefusedSensor[]>('GET', '/api/refused-sensors'),
  startSession: (athleteId: string) => request<SessionView>('POST', '/api/sessions', { athleteId }),
  session: (id: string) => request<SessionView>('GET', `/api/sessions/${at(id)}`),
  endSession: (id: string) => request<SessionView>('POST', `/api/sessions/${at(id)}/end`),
  leadIn: (id: string, step: LeadInStep, what: 'start' | 'stop') =>
    request<SessionView>('POST', `/api/sessions/${at(id)}/lead-in/${step}/${what}`),
  startTrial: (sessionId: string, task: Task) =>
    request<TrialSummary>('POST', `/api/sessions/${at(sessionId)}/trials`, { task }),
  stopTrial: (id: string) => request<TrialSummary>('POST', `/api/trials/${at(id)}/stop`),
  changeTrial: (id: string, change: TrialChange) => request<TrialSummary>('PATCH', `/api/trials/${at(id)}`, change),
  waveforms: (trialId: string) => request<TrialWaveforms>('GET', `/api/trials/${at(trialId)}/waveforms`),
  trial: (id: string) => request<TrialView>('GET', `/api/trials/${at(id)}`),
  trials: (athleteId: string) => request<TrialSummary[]>('GET', `/api/athletes/${at(athleteId)}/trials`),
  history: (athleteId: string, metric: StanceMetricKey) =>
    request<HistoryPoint[]>('GET', `/api/athletes/${at(athleteId)}/history?metric=${metric}`),
  sessionHistory: (athleteId: string, task: StanceRung, metric: StanceMetricKey) =>
    request<SessionHistory>('GET', `/api/athletes/${at(athleteId)}/session-history?task=${task}&metric=${metric}`),
  ladder: (athleteId: string, metric: StanceMetricKey) =>
    request<TaskLadder>('GET', `/api/athletes/${at(athleteId)}/ladder?metric=${metric}`),
  comparison: (athleteId: string, task: StanceRung, metric: StanceMetricKey, from: string, to: string) =>
    request<SessionComparison>(
      'GET',
      `/api/athletes/${at(athleteId)}/comparison?task=${task}&metric=${metric}&from=${at(from)}&to=${at(to)}`,
    ),
  addAnnotation: (athleteId: string, annotation: NewAnnotation) =>
    request<Annotation>('POST', `/api/athletes/${at(athleteId)}/annotations`, annotation),
  changeAnnotation: (athleteId: string, id: string, change: AnnotationChange) =>
    request<Annotation>('PATCH', `/api/athletes/${at(athleteId)}/annotations/${at(id)}`, change),
  removeAnnotation: (athleteId: string, id: string) =>
    request<{ id: string }>('DELETE', `/api/athletes/${at(athleteId)}/annotations/${at(id)}`),
};
