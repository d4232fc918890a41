/** Which stances a comparison of left and right is about: those of the task alone, live and in the end by the same rule. */
import type { Stance } from '@ambipede/shared';

/** Seconds on the time base of the stances. */
export interface Span {
  startS: number;
  endS: number;
}

/** Tasks that are done in one gait: a step of the other one on the way there does not count. */
const GAIT_OF_TASK: Readonly<Record<string, Stance['gait']>> = {
  walk: 'walk',
  run: 'run',
  strides: 'run',
  'run-up': 'run',
};

/**
 * The stances of the task's gait, where it has one, that lie wholly within one of the spans; without spans, anywhere.
 * Their order stays.
 */
export function stancesOfTask(task: string, stances: readonly Stance[], spans: readonly Span[]): Stance[] {
  const gait = Object.hasOwn(GAIT_OF_TASK, task) ? GAIT_OF_TASK[task] : undefined;
  const isWithin = (stance: Stance): boolean =>
    spans.length === 0 || spans.some((span) => stance.initialContact >= span.startS && stance.toeOff <= span.endS);
  return stances.filter((stance) => isWithin(stance) && (gait === undefined || stance.gait === gait));
}
