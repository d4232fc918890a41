/** A criterion in words and figures, as the server gave them. */
import { METRICS } from '@ambipede/shared';
import type { CriterionThen, ReturnBaseline, ReturnCriterion, ReturnSession } from '@ambipede/shared';
import { fixed, signed, unitText, withUnit } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

const DAY = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium' });

export function dayText(utcMs: number): string {
  return DAY.format(utcMs);
}

/** As it was typed: rounding would show another limit than the one that is tested. */
export function limitText({ limit, metric }: Pick<ReturnCriterion, 'limit' | 'metric'>): string {
  return `${limit}${unitText(METRICS[metric])}`;
}

export function criterionName({ task, metric }: Pick<ReturnCriterion, 'task' | 'metric'>): string {
  return `${TEXTS.task[task]}, ${METRICS[metric].label.toLowerCase()}`;
}

export function changeWords({ change }: ReturnSession, { metric }: ReturnCriterion, basis: ReturnBaseline): string {
  if (change === null) return TEXTS.return.noChange;
  const { decimals } = METRICS[metric];
  if (Number(fixed(Math.abs(change), decimals)) === 0) return TEXTS.return.unmoved[basis];
  const amount = withUnit(Math.abs(change), METRICS[metric]);
  return TEXTS.return.moved(amount, change > 0 ? 'left' : 'right', basis);
}

export function intervalWords(
  { ci90 }: Pick<ReturnSession, 'ci90'>,
  { metric }: Pick<ReturnCriterion, 'metric'>,
): string {
  if (ci90 === null) return TEXTS.return.noInterval;
  return TEXTS.return.interval(signed(ci90[0], METRICS[metric]), signed(ci90[1], METRICS[metric]));
}

/** n, the difference itself, the seat of the sensors: what stands behind a session. */
export function behindWords(session: ReturnSession, { metric }: ReturnCriterion): string {
  const { n, difference, tooFewStances, placementUncertainty } = session;
  const parts = [TEXTS.return.stances(n.left, n.right)];
  if (tooFewStances) parts.push(TEXTS.return.tooFew);
  if (difference !== null) parts.push(TEXTS.return.difference(signed(difference, METRICS[metric])));
  if (placementUncertainty !== null) parts.push(TEXTS.return.seat(withUnit(placementUncertainty, METRICS[metric])));
  return parts.join(' · ');
}

/** A criterion as it stood when somebody decided. */
export function criterionThenWords(then: CriterionThen): string {
  const { metric, sessionsInARow, state, change, newestUtcMs, withinInARow } = then;
  const what = TEXTS.return.within(criterionName(then), limitText(then), sessionsInARow);
  const parts = [`${what}: ${TEXTS.return.state[state]}`];
  if (change !== null) parts.push(TEXTS.return.changeThen(signed(change, METRICS[metric]), intervalWords(then, then)));
  if (newestUtcMs !== null) parts.push(TEXTS.return.newestThen(dayText(newestUtcMs)));
  parts.push(TEXTS.return.row(withinInARow, sessionsInARow));
  return `${parts.join('; ')}.`;
}
