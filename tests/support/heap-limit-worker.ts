/** Entry of a worker thread that says how far its heap may grow, bytes. */
import { getHeapStatistics } from 'node:v8';
import { parentPort } from 'node:worker_threads';

parentPort?.postMessage(getHeapStatistics().heap_size_limit);
