/** Two sessions of one version held against each other. */
import type { SessionComparison, SessionDifference } from '@ambipede/shared';
import { sessionHistory, type HistoryInput } from './session-history.ts';

export type ComparisonFault = { fault: 'from not measured' | 'to not measured' } | { fault: 'versions'; said: string };

export interface ComparisonInput extends HistoryInput {
  /** Ids of sessions. */
  from: string;
  to: string;
}

export function sessionComparison(input: ComparisonInput): SessionComparison | ComparisonFault {
  const { athleteId, task, metric } = input;
  const { sessions } = sessionHistory(input);
  const [froms, tos] = [input.from, input.to].map((id) => sessions.filter(({ sessionId }) => sessionId === id));
  if (!froms?.length) return { fault: 'from not measured' };
  if (!tos?.length) return { fault: 'to not measured' };
  const to = tos.findLast(({ version }) => froms.some((each) => each.version === version));
  const from = froms.find(({ version }) => version === to?.version);
  if (!from || !to) return { fault: 'versions', said: `${versionsOf(froms)} and ${versionsOf(tos)}` };

  const { version } = to;
  const sameVersion = input.trials.filter((trial) => trial.version === version);
  const { detectableChange } = sessionHistory({ ...input, trials: sameVersion });
  const change = to.difference - from.difference;
  // Independent sessions: variances add up, and so do the squares of the half-widths.
  const half = Math.hypot(halfOf(from), halfOf(to));
  const tooFewStances = from.tooFewStances || to.tooFewStances;
  const placementUncertainty =
    from.placementUncertainty === null || to.placementUncertainty === null
      ? null
      : Math.hypot(from.placementUncertainty, to.placementUncertainty);
  const beyond = (bound: number | null): boolean | null =>
    tooFewStances || bound === null ? null : Math.abs(change) > bound;
  const beyondPlacement = beyond(placementUncertainty);
  return {
    ...{ athleteId, task, metric, version, from, to, change, tooFewStances, detectableChange, placementUncertainty },
    ci95: [change - half, change + half],
    excludesZero: beyond(half),
    beyondDetectable: beyond(detectableChange.change),
    couldBePlacement: beyondPlacement === null ? null : !beyondPlacement,
  };
}

function halfOf({ ci95 }: SessionDifference): number {
  return (ci95[1] - ci95[0]) / 2;
}

function versionsOf(sessions: readonly SessionDifference[]): string {
  return sessions.map(({ version }) => version).join(', ');
}
