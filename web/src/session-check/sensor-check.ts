/** Is a sensor ready? Each question with its answer, and one verdict that says what to do. All of it is the server's word. */
import type { KnownSensor, Place, RefusedSensor, SensorStatus } from '@ambipede/shared';
import { delivers } from '../components/sensor-words.ts';
import { ageText, fixed } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

/** Below this a battery is called low: a default without a source. */
export const BATTERY_LOW_PERCENT = 20;
/** One sample lost in this many is worth a warning: a default without a source. */
export const WARN_ONE_LOST_IN = 100;

export interface CheckInput {
  place: Place;
  /** Null when no sensor of the athlete sits there. */
  status: SensorStatus | null;
  /** What the list of sensors says of it; null while that is not known. */
  known: KnownSensor | null;
  /** Whether the server turned it away last. */
  refused: RefusedSensor | null;
  /** The page has lost the server. */
  stale: boolean;
}

/** `warn`: it measures, and something is to be seen to. `unknown`: nothing can be said now. */
export type Readiness = 'ready' | 'warn' | 'not-ready' | 'unknown';
export type Question = keyof typeof TEXTS.check.question;

export interface CheckLine {
  question: Question;
  words: string;
  /** False: see to it. Null: not known. */
  fine: boolean | null;
}

export interface SensorCheck {
  place: Place;
  readiness: Readiness;
  verdict: string;
  /** Empty when there is nothing to do. */
  todo: string;
  lines: CheckLine[];
}

export function checkSensor(input: CheckInput): SensorCheck {
  return { place: input.place, ...verdictOf(input), lines: linesOf(input) };
}

function verdictOf(input: CheckInput): Pick<SensorCheck, 'readiness' | 'verdict' | 'todo'> {
  const { verdict, todo } = TEXTS.check;
  const say = (readiness: Readiness, words: string, then = '') => ({ readiness, verdict: words, todo: then });
  const { place, status, known, refused, stale } = input;
  if (stale) return say('unknown', verdict.lost, todo.lost);
  if (status === null) return say('not-ready', verdict.none, todo.none(place));
  switch (status.condition) {
    case 'never-seen':
    case 'disconnected':
      if (known?.enrolled === false) return say('not-ready', verdict.notEnrolled, todo.notEnrolled);
      if (refused !== null) return say('not-ready', verdict.refused, todo.refused);
      return status.condition === 'never-seen'
        ? say('not-ready', verdict.neverSeen, todo.neverSeen)
        : say('not-ready', verdict.disconnected, todo.disconnected);
    case 'silent':
      return say('not-ready', verdict.silent, todo.silent);
    case 'catching-up':
      return say(
        'not-ready',
        status.behindS === null ? verdict.behindUnknown : verdict.behind(ageText(status.behindS)),
        todo.behind,
      );
    case 'streaming':
      if (status.clockResidualMs === null) return say('not-ready', verdict.clockless, todo.clockless);
      if (isLow(status)) return say('warn', verdict.batteryLow(percentText(status.batteryPercent)), todo.battery);
      if (losesMany(status)) return say('warn', verdict.losing, todo.losing);
      return say('ready', verdict.ready);
  }
}

function linesOf({ status, known, stale }: CheckInput): CheckLine[] {
  const { answer } = TEXTS.check;
  const line = (question: Question, words: string, fine: boolean | null): CheckLine => ({ question, words, fine });
  if (stale) return QUESTIONS.map((question) => line(question, answer.unknown, null));
  if (status === null) return [line('assigned', answer.no, false)];
  const connected = status.condition !== 'disconnected' && status.condition !== 'never-seen';
  // Of a sensor that does not deliver, battery and clock are of the past: said so, and no reason for a tick.
  const now = (question: Question, words: string, fine: boolean): CheckLine =>
    delivers(status) ? line(question, words, fine) : line(question, answer.lastKnown(words), null);
  return [
    line('assigned', answer.device(status.deviceId), true),
    known === null
      ? line('enrolled', answer.unknown, null)
      : line('enrolled', known.enrolled ? answer.yes : answer.no, known.enrolled),
    line('connected', connected ? answer.yes : answer.no, connected),
    line('streaming', streamingWords(status), status.condition === 'streaming'),
    status.batteryPercent === null
      ? line('battery', answer.unknown, null)
      : now('battery', batteryWords(status), !isLow(status)),
    status.clockResidualMs === null
      ? line('clock', answer.clockless, false)
      : now('clock', answer.clock(fixed(status.clockResidualMs, 2)), true),
    line('samples', samplesWords(status), status.receivedSamples === 0 ? null : !losesMany(status)),
  ];
}

const QUESTIONS: readonly Question[] = [
  'assigned',
  'enrolled',
  'connected',
  'streaming',
  'battery',
  'clock',
  'samples',
];

function isLow({ batteryPercent }: SensorStatus): boolean {
  return batteryPercent !== null && batteryPercent < BATTERY_LOW_PERCENT;
}

function losesMany({ lostSamples, receivedSamples }: SensorStatus): boolean {
  return lostSamples * WARN_ONE_LOST_IN > lostSamples + receivedSamples;
}

function percentText(percent: number | null): string {
  return percent === null ? TEXTS.dash : `${Math.round(percent)} %`;
}

function streamingWords({ condition, behindS }: SensorStatus): string {
  const { answer } = TEXTS.check;
  if (condition === 'streaming') return answer.live;
  if (behindS === null) return answer.never;
  return condition === 'catching-up' ? answer.behind(ageText(behindS)) : answer.lastHeard(ageText(behindS));
}

function batteryWords(status: SensorStatus): string {
  const percent = percentText(status.batteryPercent);
  return isLow(status) ? TEXTS.check.answer.batteryLow(percent, BATTERY_LOW_PERCENT) : percent;
}

function samplesWords({ lostSamples, receivedSamples }: SensorStatus): string {
  const { answer } = TEXTS.check;
  if (receivedSamples === 0 && lostSamples === 0) return answer.noSamples;
  return lostSamples === 0 ? answer.noneLost : answer.lost(String(lostSamples), String(receivedSamples));
}
