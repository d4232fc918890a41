/** Measures how late the event loop is: whatever computes too long in one piece makes everybody wait. */
import type { Metrics } from './metrics.ts';

const EVERY_MS = 100;

/** Returns what ends it. */
export function watchEventLoop({ eventLoopDelayS }: Pick<Metrics, 'eventLoopDelayS'>): () => void {
  let dueMs = performance.now() + EVERY_MS;
  const timer = setInterval(() => {
    const nowMs = performance.now();
    eventLoopDelayS.observe(Math.max(0, nowMs - dueMs) / 1000);
    dueMs = nowMs + EVERY_MS;
  }, EVERY_MS);
  timer.unref();
  return () => clearInterval(timer);
}
