/** Left against right of trials as CSV: a row for each trial and metric, each with its unit. */
import { METRICS } from '@ambipede/shared';
import type { TrialDifferences } from '../store/trial-summaries.ts';
import { csvLine, type CsvCell } from './csv.ts';
import { columnOf } from './stances-csv.ts';

/** `..._in_unit`: in the unit that the row names. */
export const SUMMARIES_HEAD = csvLine([
  ...['session_id', 'trial_id', 'task', 'trial_started_utc', 'version', 'discarded', 'tags', 'note'],
  ...['metric', 'unit', 'left_n', 'left_mean_in_unit', 'left_sd_in_unit'],
  ...['right_n', 'right_mean_in_unit', 'right_sd_in_unit'],
  ...['left_minus_right_in_unit', 'ci95_low_in_unit', 'ci95_high_in_unit'],
  ...['missing_stances_left', 'missing_stances_right', 'verdict', 'placement_uncertainty_in_unit'],
]);

export function summaryLines(trial: TrialDifferences): string {
  const started = new Date(trial.startedUtcMs).toISOString();
  const head: CsvCell[] = [trial.sessionId, trial.id, trial.task, started, trial.version, trial.discarded];
  return trial.metrics
    .map(([metric, { left, right, difference, ci95, missingStances, verdict, placementUncertainty }]) =>
      csvLine([
        ...[...head, trial.tags.join('; '), trial.note, columnOf(metric), METRICS[metric].unit],
        ...[left.n, left.mean, left.sd, right.n, right.mean, right.sd],
        ...[difference, ci95?.[0] ?? null, ci95?.[1] ?? null],
        ...[missingStances.left, missingStances.right, verdict, placementUncertainty ?? null],
      ]),
    )
    .join('');
}
