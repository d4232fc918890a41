/** Worker threads whose entry is TypeScript: Node 20 cannot strip types itself, and tsx does not reach into workers. */
import { setFlagsFromString } from 'node:v8';
import { Worker } from 'node:worker_threads';

export function startTypescriptWorker(entry: URL): Worker {
  // `npm start` limits the heap of the thread that is running already. A recording of hours needs more: Node's own limit.
  setFlagsFromString('--max-old-space-size=0');
  const boot = new URL('./typescript-worker-boot.mjs', import.meta.url);
  return new Worker(boot, { workerData: { entry: entry.href }, execArgv: [] });
}
