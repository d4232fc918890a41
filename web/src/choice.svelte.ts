/** What the person last chose, kept while the page is open: the next trial is then one tap away. */
import type { StanceMetricKey, Task } from '@ambipede/shared';

class Choice {
  metric = $state<StanceMetricKey>('swingSideDropDeg');
  task = $state<Task>('run');
}

export const choice = new Choice();
