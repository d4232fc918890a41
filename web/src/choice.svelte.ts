/** What the person last chose, kept while the page is open: the next trial is then one tap away. */
import type { StanceMetricKey, Task } from '@ambipede/shared';

const FIRST = { metric: 'swingSideDropDeg', task: 'run' } as const;

class Choice {
  metric = $state<StanceMetricKey>(FIRST.metric);
  task = $state<Task>(FIRST.task);

  reset(): void {
    this.metric = FIRST.metric;
    this.task = FIRST.task;
  }
}

export const choice = new Choice();
