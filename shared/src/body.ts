/** The words for sides, sensor places and tasks that every workspace uses. */

export const SIDES = ['left', 'right'] as const;
export type Side = (typeof SIDES)[number];

/** A side as far as it is known. A recording without a gyroscope cannot tell left from right. */
export type SideOrUnknown = Side | 'unknown';

export const PLACES = ['pelvis', 'sternum'] as const;
export type Place = (typeof PLACES)[number];

/** Tasks in order from simple to hard (the task ladder). */
export const TASKS = ['stand', 'single-leg-stand', 'walk', 'run', 'strides', 'run-up', 'landing', 'half-turn'] as const;
export type Task = (typeof TASKS)[number];

/** Parts of a session that are not a task: the guided lead-in that tells how the sensors sit on the body. */
export const LEAD_IN_STEPS = ['reference_stand', 'forward_bow'] as const;
export type LeadInStep = (typeof LEAD_IN_STEPS)[number];

/** The side that is not `side`: the swing side of a stance on `side`. */
export function otherSide(side: Side): Side {
  return side === 'left' ? 'right' : 'left';
}
