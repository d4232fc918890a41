import { TASK_INFO, type Task } from '@ambipede/shared';

/** Whether a task says more than its stances do. */
export function hasTaskView(task: Task): boolean {
  const { stanceBased, rung } = TASK_INFO[task];
  return !stanceBased || rung === 'run-up';
}

/** Whether left and right are compared over its stances. */
export function hasPairView(task: Task): boolean {
  return TASK_INFO[task].stanceBased;
}
