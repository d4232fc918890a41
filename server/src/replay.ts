/** Plays a recording to a running server as if it happened now: sensors over the ingest socket, taps over the HTTP API. */
import {
  LEAD_IN_STEPS,
  TASKS,
  type AthleteSummary,
  type LeadInStep,
  type Place,
  type SensorEnrolment,
  type SessionView,
  type Task,
  type TrialSummary,
} from '@ambipede/shared';
import {
  hostNowMs,
  startVirtualSensor,
  type SourceReading,
  type VirtualSensor,
} from '@ambipede/firmware-protocol/virtual-sensor';
import type { Recording } from './motion/types.ts';
import { ReplayApi, ReplayError, type ReplayLogin } from './replay-api.ts';

export interface ReplayOptions {
  /** ws:// or http:// address of the server, without a path. */
  url: string;
  /** For a server with accounts. */
  login?: ReplayLogin;
  athlete: string;
  /** Overrides the task of a recording that does not mark one. */
  task?: string;
  /** One line a call: what has just happened. */
  log(line: string): void;
}

/** A tap on the screen at a time of the recording, in seconds after its first sample. */
export interface Tap {
  atS: number;
  action: 'start' | 'stop';
  what: { kind: 'lead-in'; step: LeadInStep } | { kind: 'trial'; task: Task };
}

/** Time for both sensors to connect before the first sample. */
const CONNECT_MS = 1500;
const FINAL_WAIT_MS = 60_000;
const FINAL_POLL_MS = 250;

/** Taps in order of time. Throws ReplayError when the recording has no task that the server knows. */
export function planTaps(recording: Recording, task?: string): Tap[] {
  const { startS, endS } = extentOf(recording);
  const taps: Tap[] = [];
  const add = (fromS: number, toS: number, what: Tap['what']): void => {
    taps.push({ atS: Math.max(fromS, startS) - startS, action: 'start', what });
    taps.push({ atS: Math.min(toS, endS) - startS, action: 'stop', what });
  };
  for (const mark of recording.marks) {
    if (mark.endS <= startS || mark.startS >= endS) continue;
    const step = LEAD_IN_STEPS.find((known) => known === mark.kind);
    const marked = TASKS.find((known) => known === mark.kind);
    if (step) add(mark.startS, mark.endS, { kind: 'lead-in', step });
    else if (marked) add(mark.startS, mark.endS, { kind: 'trial', task: marked });
  }
  if (!taps.some(({ what }) => what.kind === 'trial')) {
    const name = task ?? recording.task;
    const known = TASKS.find((one) => one === name);
    if (!known) {
      throw new ReplayError(`"${name}" is not a task. Give --task with one of: ${TASKS.join(', ')}.`);
    }
    add(startS, endS, { kind: 'trial', task: known });
  }
  // What ends comes before what begins at the same moment.
  return taps.sort((a, b) => a.atS - b.atS || Number(a.action === 'start') - Number(b.action === 'start'));
}

export async function replayRecording(recording: Recording, options: ReplayOptions): Promise<void> {
  const places = (Object.keys(recording.streams) as Place[]).filter((place) => recording.streams[place]);
  for (const place of places) requireGyroscope(recording, place);
  const taps = planTaps(recording, options.task);
  const api = new ReplayApi(options.url);
  if (options.login) await api.signIn(options.login);
  try {
    await play(api, recording, places, taps, options);
  } finally {
    // It must not hide what went wrong before.
    await api.signOut().catch(() => options.log('The sign-out did not arrive: the sign-in ends within half an hour.'));
  }
}

async function play(
  api: ReplayApi,
  recording: Recording,
  places: readonly Place[],
  taps: Tap[],
  options: ReplayOptions,
): Promise<void> {
  const athlete = await openAthlete(api, options);
  const tokens = new Map<Place, string>();
  for (const place of places) {
    const sensorPath = `/api/sensors/${deviceIdOf(place)}`;
    tokens.set(place, (await api.call<SensorEnrolment>('POST', `${sensorPath}/enrolment`)).token);
    await api.call('PUT', sensorPath, { athleteId: athlete.id, place });
  }
  const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id });
  const startMs = hostNowMs() + CONNECT_MS;
  const sensors = places.map((place) => startSensor(recording, place, tokens.get(place) ?? '', startMs, options.url));
  try {
    options.log(`${options.athlete}: session ${session.id}, ${places.join(' and ')}, ${describeLength(recording)}.`);
    await until(startMs);
    requireConnected(sensors, options.url);
    const trials = await tapAlong(api, session.id, taps, startMs, options.log);
    for (const [i, sensor] of sensors.entries()) {
      const { sampled, acknowledged, dropped, problem } = await storedOrGivenUp(sensor);
      options.log(
        `${places[i]}: ${sampled} samples sent, ${acknowledged} stored, ${dropped} dropped${problem ? ` (${problem})` : ''}.`,
      );
    }
    for (const id of trials) options.log(describeTrial(await waitForFinal(api, id)));
  } finally {
    await Promise.all(sensors.map((sensor) => sensor.stop()));
    await api.call('POST', `/api/sessions/${session.id}/end`);
    // Free for the next replay, of whomever; the session remembers who wore them.
    for (const place of places) await api.call('PUT', `/api/sensors/${deviceIdOf(place)}`, { athleteId: null, place });
  }
}

async function openAthlete(api: ReplayApi, { athlete: name, log }: ReplayOptions): Promise<AthleteSummary> {
  const known = (await api.call<AthleteSummary[]>('GET', '/api/athletes')).find((one) => one.name === name);
  if (!known) return api.call<AthleteSummary>('POST', '/api/athletes', { name });
  if (known.openSessionId) {
    log(`${name} still had an open session: ended.`);
    await api.call('POST', `/api/sessions/${known.openSessionId}/end`);
  }
  return known;
}

async function tapAlong(
  api: ReplayApi,
  sessionId: string,
  taps: Tap[],
  startMs: number,
  log: (line: string) => void,
): Promise<string[]> {
  const trials: string[] = [];
  for (const { atS, action, what } of taps) {
    await until(startMs + atS * 1000);
    if (what.kind === 'lead-in') {
      await api.call('POST', `/api/sessions/${sessionId}/lead-in/${what.step}/${action}`);
      log(`${atS.toFixed(1)} s  ${what.step} ${action}`);
    } else if (action === 'start') {
      const trial = await api.call<TrialSummary>('POST', `/api/sessions/${sessionId}/trials`, { task: what.task });
      trials.push(trial.id);
      log(`${atS.toFixed(1)} s  ${what.task} start`);
    } else {
      await api.call('POST', `/api/trials/${trials[trials.length - 1]}/stop`);
      log(`${atS.toFixed(1)} s  ${what.task} stop`);
    }
  }
  return trials;
}

/** All samples acknowledged, or the wait was long enough. */
async function storedOrGivenUp(sensor: VirtualSensor): ReturnType<VirtualSensor['stop']> {
  const timer = setTimeout(() => void sensor.stop(), FINAL_WAIT_MS);
  return sensor.finished.finally(() => clearTimeout(timer));
}

async function waitForFinal(api: ReplayApi, trialId: string): Promise<TrialSummary> {
  const giveUpMs = hostNowMs() + FINAL_WAIT_MS;
  for (;;) {
    const trial = await api.call<TrialSummary>('GET', `/api/trials/${trialId}`);
    if (trial.state === 'final' || trial.state === 'failed' || hostNowMs() > giveUpMs) return trial;
    await until(hostNowMs() + FINAL_POLL_MS);
  }
}

function describeTrial({ task, state, stanceCount, problem }: TrialSummary): string {
  return `${task}: ${state}, ${stanceCount.left} left and ${stanceCount.right} right stances${problem ? `. ${problem}` : ''}`;
}

function startSensor(recording: Recording, place: Place, token: string, startMs: number, url: string): VirtualSensor {
  const { startS } = extentOf(recording);
  const { samples, rateHz } = streamOf(recording, place);
  function* source(): Generator<SourceReading> {
    for (const { tS, ax, ay, az, gx, gy, gz } of samples) yield { tS: tS - startS, ax, ay, az, gx, gy, gz };
  }
  const ingestUrl = `${url.replace(/^http/, 'ws').replace(/\/$/, '')}/ingest`;
  return startVirtualSensor({ deviceId: deviceIdOf(place), token, url: ingestUrl, rateHz, source: source(), startMs });
}

function requireGyroscope(recording: Recording, place: Place): void {
  const { samples } = streamOf(recording, place);
  if (samples.some(({ gx, gy, gz }) => Number.isFinite(gx + gy + gz))) return;
  throw new ReplayError(
    `The ${place} sensor of this recording has no gyroscope, which the live protocol requires. Use npm run analyse instead.`,
  );
}

function requireConnected(sensors: VirtualSensor[], url: string): void {
  for (const sensor of sensors) {
    const { connected, problem } = sensor.state();
    if (!connected)
      throw new ReplayError(`No sensor connection to ${url}: ${problem ?? 'no answer'}. Is the server running?`);
  }
}

function streamOf(recording: Recording, place: Place): NonNullable<Recording['streams'][Place]> {
  const stream = recording.streams[place];
  if (!stream) throw new ReplayError(`The recording has no ${place} sensor.`);
  return stream;
}

/** From the first to the last sample of any sensor. */
function extentOf(recording: Recording): { startS: number; endS: number } {
  const samples = Object.values(recording.streams).flatMap((stream) => [stream.samples[0], stream.samples.at(-1)]);
  const times = samples.flatMap((sample) => (sample ? [sample.tS] : []));
  if (times.length === 0) throw new ReplayError('The recording has no samples.');
  return { startS: Math.min(...times), endS: Math.max(...times) };
}

function describeLength(recording: Recording): string {
  const { startS, endS } = extentOf(recording);
  return `${(endS - startS).toFixed(1)} s in real time`;
}

function deviceIdOf(place: Place): string {
  return `replay-${place}`;
}

function until(hostMs: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, Math.max(0, hostMs - hostNowMs())));
}
