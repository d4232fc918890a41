/** Ctrl-C, SIGTERM, and the end of the npm that runs us. */
import { isRunByNpm } from './config.ts';

/**
 * A signal this soon after the first is the same Ctrl-C: the terminal sends it to every process of the command, and npm
 * passes it on once more.
 */
const SAME_SIGNAL_MS = 1000;
const PARENT_CHECK_MS = 1000;

/** Calls `stop` at the first signal. Somebody who asks again later does not want to wait: the process ends at once. */
export function onStopSignal(stop: (signal: string) => void): void {
  let firstMs: number | null = null;
  for (const signal of ['SIGINT', 'SIGTERM'] as const) {
    process.on(signal, () => {
      if (firstMs === null) {
        firstMs = Date.now();
        stop(signal);
      } else if (Date.now() - firstMs > SAME_SIGNAL_MS) process.exit(1);
    });
  }
  if (isRunByNpm()) stopWithParent(() => process.emit('SIGTERM'));
}

/** A SIGTERM to npm ends npm and its shell, which does not pass it on: without a look this process would stay alone. */
function stopWithParent(stop: () => void): void {
  const parent = process.ppid;
  const watch = setInterval(() => {
    if (process.ppid === parent) return;
    clearInterval(watch);
    stop();
  }, PARENT_CHECK_MS);
  watch.unref();
}
