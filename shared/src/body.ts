/** The words for sides, sensor places and tasks that every workspace uses. */

export const SIDES = ['left', 'right'] as const;
export type Side = (typeof SIDES)[number];

/** A side as far as it is known. A recording without a gyroscope cannot tell left from right. */
export type SideOrUnknown = Side | 'unknown';

export const PLACES = ['pelvis', 'sternum'] as const;
export type Place = (typeof PLACES)[number];

/** Everything that a trial can be of, from simple to hard (the task ladder); with the foot where one has to be marked. */
export const TASKS = [
  'stand',
  'single-leg-stand',
  'single-leg-stand-left',
  'single-leg-stand-right',
  'walk',
  'run',
  'strides',
  'run-up',
  'landing',
  'landing-both',
  'landing-left',
  'landing-right',
  'half-turn',
] as const;
export type Task = (typeof TASKS)[number];

export interface TaskInfo {
  task: Task;
  /** The rung of the ladder: the task without its mark. */
  rung: 'stand' | 'single-leg-stand' | 'walk' | 'run' | 'strides' | 'run-up' | 'landing' | 'half-turn';
  /** The foot that stands or lands: two sensors on the trunk cannot tell it, so the choice of the task does. */
  mark: Side | 'both' | null;
  /** True where a mark belongs and is missing, as in recordings from elsewhere: readable, but not offered to a coach. */
  unmarked: boolean;
  /** Left and right are compared over its stances; otherwise the task summary says what it was like. */
  stanceBased: boolean;
  /** Single-leg and jumping tasks: a spotter, a dry floor and clear space (BIOMECHANICS 8). */
  needsSpotter: boolean;
}

export const TASK_INFO: Readonly<Record<Task, TaskInfo>> = Object.fromEntries(
  TASKS.map((task) => [task, infoOf(task)]),
) as Record<Task, TaskInfo>;

/** What a coach picks from, in this order. */
export const COACH_TASKS: readonly TaskInfo[] = TASKS.map((task) => TASK_INFO[task]).filter((info) => !info.unmarked);

function infoOf(task: Task): TaskInfo {
  const [, rung, suffix] = /^(.+?)(?:-(left|right|both))?$/.exec(task) as unknown as [
    string,
    TaskInfo['rung'],
    Side | 'both' | undefined,
  ];
  return {
    task,
    rung,
    mark: suffix ?? null,
    unmarked: suffix === undefined && (rung === 'single-leg-stand' || rung === 'landing'),
    stanceBased: rung === 'walk' || rung === 'run' || rung === 'strides' || rung === 'run-up',
    needsSpotter: rung !== 'stand' && rung !== 'walk' && rung !== 'run',
  };
}

/** Parts of a session that are not a task: the guided lead-in that tells how the sensors sit on the body. */
export const LEAD_IN_STEPS = ['reference_stand', 'forward_bow'] as const;
export type LeadInStep = (typeof LEAD_IN_STEPS)[number];

/** The side that is not `side`: the swing side of a stance on `side`. */
export function otherSide(side: Side): Side {
  return side === 'left' ? 'right' : 'left';
}
