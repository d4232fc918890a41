/** What a criterion still lacks, in numbers and in words. */
import type { ReturnCriterionState, ReturnState } from '@ambipede/shared';
import type { SessionAnswer } from './return-session.ts';

type Missing = Pick<ReturnCriterionState, 'missing' | 'why'>;

const IF_ALL_STAYS = 'An estimate, if the difference and its scatter stay as they are.';

/** @param sessionsLeft how many further sessions within the limit the row takes */
export function whatIsMissing(
  state: ReturnState,
  { session, more: lacking }: SessionAnswer,
  sessionsLeft: number,
): Missing {
  if (state === 'within')
    return { missing: null, why: 'The 90 % interval of each session in the row lies within the limit.' };
  if (state === 'outside')
    return { missing: null, why: 'The 90 % interval of the newest session lies beyond the limit.' };
  if (session.answer === 'within') {
    const why = `The newest session is within the limit; the row takes ${sessionsLeft} more like it.`;
    return { missing: { unit: 'sessions', count: sessionsLeft }, why };
  }
  const more = lacking();
  if (more === 'zero not known')
    return none(
      'How the sensors sat in the newest session is not known, and this metric is measured from level. Measure again after a full lead-in.',
    );
  if (more === null) throw new Error('a session without an answer says what it lacks');
  const { count, reason } = more;
  if (reason === 'zero too uncertain')
    return none(
      'The seat of the sensors or the baseline is too uncertain for this limit: more stances do not help. Use a metric that needs no zero, or a wider limit.',
    );
  if (reason === 'too close to the limit' || count === null)
    return none('The change lies too near the limit to tell them apart. More stances are not likely to help.');
  const why =
    reason === 'least number'
      ? `The newest session has too few stances: ${count} more a side before anything is concluded.`
      : `About ${count} more stances a side would give an answer. ${IF_ALL_STAYS}`;
  return { missing: { unit: 'stances a side', count }, why };
}

function none(why: string): Missing {
  return { missing: { unit: 'stances a side', count: null }, why };
}
