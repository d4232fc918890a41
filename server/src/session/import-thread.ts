/**
 * Reads what is imported in a thread of its own, which ends with it: packets of sensors are not kept waiting, and a file that
 * takes too much memory takes that thread only.
 */
import { startTypescriptWorker } from '../typescript-worker.ts';
import type { ImportPlan } from './import-plan.ts';
import type { ImportContext } from './import-work.ts';

export type ImportRequest = ImportContext &
  (
    | { kind: 'csv'; body: Uint8Array }
    | { kind: 'motion-bids'; body: Uint8Array; task: string | null; startedUtcMs: number | null; fileName: string }
  );

/** What a request is refused for: as the validation of a route says it. */
export type SchemaFault = { keyword: string; instancePath: string; params: Record<string, unknown>; message: string };

export type ImportReply =
  { plan: ImportPlan; importedFrom: string; hasMass: boolean } | { fault: string } | { validation: SchemaFault[] };

/** `body` is handed over: it is empty afterwards. Rejects when the thread breaks off. */
export function planInThread(request: ImportRequest): Promise<ImportReply> {
  const worker = startTypescriptWorker(new URL('./import-worker.ts', import.meta.url));
  const answered = new Promise<ImportReply>((resolve, reject) => {
    worker.once('message', resolve);
    worker.once('error', reject);
    worker.once('exit', () => reject(new Error('the thread that reads the import ended')));
  });
  // A buffer that shares its memory with others cannot be handed over.
  const isWhole = request.body.byteLength === request.body.buffer.byteLength;
  worker.postMessage(request, isWhole ? [request.body.buffer as ArrayBuffer] : []);
  return answered.finally(() => worker.terminate());
}
