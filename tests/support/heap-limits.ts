/** A program of its own, as a heap's limit is given at the start: prints that of its thread and that of a worker, bytes. */
import { getHeapStatistics } from 'node:v8';
import { startTypescriptWorker } from '../../server/src/typescript-worker.ts';

const worker = startTypescriptWorker(new URL('./heap-limit-worker.ts', import.meta.url));
worker.once('message', (ofWorker: number) => {
  console.log(JSON.stringify({ own: getHeapStatistics().heap_size_limit, ofWorker }));
});
