/** How the criteria of a return episode stand today. Nothing here is a clearance: the decision is a person's. */
import { RETURN_SESSIONS_SHOWN_MAX } from '@ambipede/shared';
import type {
  CriterionThen,
  ReturnBaseline,
  ReturnCriterion,
  ReturnCriterionState,
  ReturnSession,
  ReturnState,
} from '@ambipede/shared';
import { referenceOf } from './return-reference.ts';
import { answerOfSession, type MeasuredSession } from './return-session.ts';
import { sessionDifferences, type TrialDifference } from './session-difference.ts';
import { whatIsMissing } from './return-words.ts';

export interface EpisodeOnset {
  onsetUtcMs: number;
  baseline: ReturnBaseline;
}

/** Most limiting first, after Shrier 2015, where one outcome that is not acceptable decides. The order itself: no source. */
const LIMITING: readonly ReturnState[] = ['outside', 'not measured', 'cannot tell', 'within'];

/** @param trials of the criterion's task and metric: final, not discarded, in any order of sessions */
export function criterionState(
  episode: EpisodeOnset,
  criterion: ReturnCriterion,
  trials: readonly TrialDifference[],
): ReturnCriterionState {
  const { onsetUtcMs } = episode;
  const measured = measuredSessions(trials);
  const since = measured.filter(({ utcMs }) => utcMs >= onsetUtcMs);
  const version = since[since.length - 1]?.version;
  if (version === undefined) return notMeasured(criterion);
  const before = sessionDifferences(trials).filter(
    (each) => each.utcMs < onsetUtcMs && each.version === version && !each.tooFewStances,
  );
  const reference = referenceOf(episode.baseline, before, version);
  const answers = since
    .filter((each) => each.version === version)
    .slice(-RETURN_SESSIONS_SHOWN_MAX)
    .map((each) => answerOfSession(each, reference, criterion));
  const sessions = answers.map(({ session }) => session);
  const newest = answers[answers.length - 1]!;
  const withinInARow = runOf(sessions);
  const state = stateOf(newest.session.answer, withinInARow, criterion.sessionsInARow);
  return {
    ...criterion,
    state,
    newestUtcMs: newest.session.utcMs,
    withinInARow,
    ...whatIsMissing(state, newest, criterion.sessionsInARow - withinInARow),
    reference,
    version,
    sessions,
    remarks: remarksOn(measured, version),
  };
}

/** Most limiting first; of one kind, the one whose change is largest for its limit. Ties keep their order. */
export function mostLimitingFirst(states: readonly ReturnCriterionState[]): ReturnCriterionState[] {
  const share = ({ sessions, limit }: ReturnCriterionState): number =>
    Math.abs(sessions[sessions.length - 1]?.change ?? 0) / limit;
  return [...states].sort((a, b) => LIMITING.indexOf(a.state) - LIMITING.indexOf(b.state) || share(b) - share(a));
}

/** What a decision keeps of a state. */
export function stateToKeep(criterion: ReturnCriterionState): CriterionThen {
  const { task, metric, limit, sessionsInARow, state, withinInARow, newestUtcMs, version, why, sessions } = criterion;
  const { change = null, ci90 = null } = sessions[sessions.length - 1] ?? {};
  return { task, metric, limit, sessionsInARow, state, withinInARow, newestUtcMs, version, why, change, ci90 };
}

/** Also those whose trials gave no difference: an older session must not stand for them. Oldest first. */
function measuredSessions(trials: readonly TrialDifference[]): MeasuredSession[] {
  const found = sessionDifferences(trials);
  const keyOf = ({ sessionId, version }: { sessionId: string; version: string }): string => `${sessionId} ${version}`;
  const known = new Set(found.map(keyOf));
  const without = new Map<string, MeasuredSession>();
  for (const trial of trials) {
    const key = keyOf(trial);
    if (known.has(key) || trial.leftN + trial.rightN === 0) continue;
    const { sessionId, sessionUtcMs: utcMs, version, leftN, rightN } = trial;
    const { n, trialsLeftOut } = without.get(key) ?? { n: { left: 0, right: 0 }, trialsLeftOut: 0 };
    without.set(key, {
      ...{ sessionId, utcMs, version, difference: null, ci95: null, trials: 0, tooFewStances: true },
      trialsLeftOut: trialsLeftOut + 1,
      n: { left: n.left + leftN, right: n.right + rightN },
      placementUncertainty: null,
    });
  }
  return [...found, ...without.values()].sort((a, b) => a.utcMs - b.utcMs);
}

function runOf(sessions: readonly ReturnSession[]): number {
  const broken = sessions.findLastIndex(({ answer }) => answer !== 'within');
  return sessions.length - 1 - broken;
}

function stateOf(newest: ReturnSession['answer'], inARow: number, wanted: number): ReturnState {
  if (newest !== 'within') return newest;
  return inARow >= wanted ? 'within' : 'cannot tell';
}

function notMeasured(criterion: ReturnCriterion): ReturnCriterionState {
  return {
    ...criterion,
    state: 'not measured',
    newestUtcMs: null,
    withinInARow: 0,
    missing: { unit: 'sessions', count: criterion.sessionsInARow },
    why: 'Nothing of this task and metric is measured since the onset.',
    reference: null,
    version: null,
    sessions: [],
    remarks: [],
  };
}

function remarksOn(measured: readonly MeasuredSession[], version: string): string[] {
  const others = new Map<string, number>();
  for (const each of measured)
    if (each.version !== version) others.set(each.version, (others.get(each.version) ?? 0) + 1);
  return [...others].map(
    ([other, count]) =>
      `Sessions analysed by version ${other} (${count}) are left out: only those of version ${version} are compared.`,
  );
}
