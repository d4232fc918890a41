/** One metric of one task over an athlete's sessions: baseline, detectable change and trend, of one version alone. */
import type {
  Annotation,
  HistoryBaseline,
  HistoryVersion,
  SessionDifference,
  SessionHistory,
  StanceMetricKey,
  StanceRung,
} from '@ambipede/shared';
import { BASELINE_SESSIONS_MIN, baselineOf, detectableChange } from '../asymmetry/baseline.ts';
import { trendOf } from '../asymmetry/trend.ts';
import { sessionDifferences, type TrialDifference } from './session-difference.ts';

const DAY_MS = 86_400_000;

export interface HistoryInput {
  athleteId: string;
  task: StanceRung;
  metric: StanceMetricKey;
  /** Final trials of the task that were not discarded, in any order. */
  trials: readonly TrialDifference[];
  annotations: readonly Annotation[];
}

export function sessionHistory({ athleteId, task, metric, trials, annotations }: HistoryInput): SessionHistory {
  const sessions = sessionDifferences(trials);
  const versions = versionsOf(sessions);
  const used = versions.find((each) => each.used)?.version;
  const counted = sessions.filter((each) => each.version === used && !each.tooFewStances);
  const { baseline, differences } = baselineFrom(counted, annotations);
  return {
    athleteId,
    task,
    metric,
    sessions,
    versions,
    baseline,
    detectableChange: detectableChange(metric, differences),
    trend: trendOf(counted.map(({ utcMs, difference }) => ({ day: Math.floor(utcMs / DAY_MS), value: difference }))),
    annotations: [...annotations],
    remarks: remarksOn(sessions, versions),
  };
}

/** In the order in which they first appear. */
function versionsOf(sessions: readonly SessionDifference[]): HistoryVersion[] {
  const newest = sessions[sessions.length - 1]?.version;
  return [...new Set(sessions.map(({ version }) => version))].map((version) => ({
    version,
    sessions: sessions.filter((each) => each.version === version).length,
    used: version === newest,
  }));
}

function baselineFrom(
  counted: readonly SessionDifference[],
  annotations: readonly Annotation[],
): { baseline: HistoryBaseline; differences: number[] } {
  const injuries = annotations.filter(({ kind }) => kind === 'injury').map(({ atUtcMs }) => atUtcMs);
  const isInjured = injuries.length > 0;
  const firstUtcMs = Math.min(...injuries);
  const chosen = isInjured ? counted.filter(({ utcMs }) => utcMs < firstUtcMs) : counted.slice(0, -1);
  const differences = chosen.map(({ difference }) => difference);
  const found = baselineOf(differences);
  return {
    differences,
    baseline: {
      basis: isInjured ? 'before the injury' : 'all but the newest session',
      sessions: differences.length,
      mean: found?.mean ?? null,
      band: found?.band ?? null,
      missingSessions: Math.max(0, BASELINE_SESSIONS_MIN - differences.length),
    },
  };
}

function remarksOn(sessions: readonly SessionDifference[], versions: readonly HistoryVersion[]): string[] {
  const remarks: string[] = [];
  const used = versions.find((each) => each.used);
  for (const { version, sessions: count } of versions.filter((each) => !each.used)) {
    remarks.push(
      `Sessions analysed by version ${version} (${count}) are shown, and left out of baseline, detectable change and trend, which are of version ${used?.version ?? ''} alone.`,
    );
  }
  const few = sessions.filter((each) => each.tooFewStances).length;
  if (few > 0)
    remarks.push(`Sessions with too few stances a side (${few}) are shown, and left out of baseline and trend.`);
  return remarks;
}
