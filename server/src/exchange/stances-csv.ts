/** The kept stances of one trial as CSV, one row each. */
import { setImmediate } from 'node:timers/promises';
import { STANCE_METRIC_KEYS } from '@ambipede/shared';
import type { Stance, StanceMetricKey, TrialSummary } from '@ambipede/shared';
import { csvLine, type CsvCell } from './csv.ts';

/** Rows made at a time: packets of the sensors come in between. */
export const CSV_ROWS_PER_PART = 100;

/** Their sign is that of the standing side: as they are, left and right compare by subtraction. */
const SIDE_RELATIVE: readonly StanceMetricKey[] = [
  'swingSideDropDeg',
  'swingSideLiftDeg',
  'obliquityAtContactDeg',
  'leanToStanceMeanDeg',
  'leanToStancePeakDeg',
  'swingSideClosingDeg',
  'chestLeadDeg',
];

/** Words and unit joined by underscores; the unit ends the name, as it ends the key. */
export function columnOf(metric: StanceMetricKey): string {
  const words = metric.replaceAll(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
  return SIDE_RELATIVE.includes(metric) ? words.replace(/_deg$/, '_side_relative_deg') : words;
}

const HEAD = ['trial_id', 'task', 'trial_started_utc', 'version', 'stance', 'side', 'side_posterior', 'gait'];
const TIMES = ['initial_contact_s', 'toe_off_s'];

export async function* stancesCsv(trial: TrialSummary, stances: readonly Stance[]): AsyncGenerator<string> {
  yield csvLine([...HEAD, ...TIMES, ...STANCE_METRIC_KEYS.map(columnOf)]);
  const started = new Date(trial.startedUtcMs).toISOString();
  const row = (s: Stance): CsvCell[] => [
    ...[trial.id, trial.task, started, trial.version, s.id, s.side, s.sidePosterior, s.gait],
    ...[s.initialContact, s.toeOff],
    ...STANCE_METRIC_KEYS.map((metric) => s[metric]),
  ];
  for (let from = 0; from < stances.length; from += CSV_ROWS_PER_PART) {
    yield stances
      .slice(from, from + CSV_ROWS_PER_PART)
      .map((stance) => csvLine(row(stance)))
      .join('');
    await setImmediate();
  }
}
