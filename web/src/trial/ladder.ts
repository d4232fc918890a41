/** The ladder of tasks as a coach climbs it. */
import { COACH_TASKS, TASK_INFO, type Task, type TaskInfo } from '@ambipede/shared';

export interface Rung {
  rung: TaskInfo['rung'];
  /** As they lie in space: left, both, right. */
  tasks: readonly TaskInfo[];
}

const PLACE_OF_MARK = { left: 0, both: 1, right: 2 } as const;
const placeOf = ({ mark }: TaskInfo): number => PLACE_OF_MARK[mark ?? 'both'];

export const RUNGS: readonly Rung[] = [...new Set(COACH_TASKS.map(({ rung }) => rung))].map((rung) => ({
  rung,
  tasks: COACH_TASKS.filter((info) => info.rung === rung).sort((a, b) => placeOf(a) - placeOf(b)),
}));

/**
 * What may come after a trial of `last`: what this rung still lacks, such as the other side; else the next rung. A task counts
 * as done by a trial that was not discarded. Null at the top.
 */
export function suggestNext(last: Task, done: ReadonlySet<Task>): Task | null {
  const at = RUNGS.findIndex(({ rung }) => rung === TASK_INFO[last].rung);
  const lacking = RUNGS[at]?.tasks.find(({ task }) => task !== last && !done.has(task));
  return (lacking ?? RUNGS[at + 1]?.tasks[0])?.task ?? null;
}
