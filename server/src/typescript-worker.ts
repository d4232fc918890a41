/** Worker threads whose entry is TypeScript: Node 20 cannot strip types itself, and tsx does not reach into workers. */
import { Worker } from 'node:worker_threads';

export function startTypescriptWorker(entry: URL): Worker {
  const boot = new URL('./typescript-worker-boot.mjs', import.meta.url);
  return new Worker(boot, { workerData: { entry: entry.href }, execArgv: [] });
}
