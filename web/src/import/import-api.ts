/** What the page that brings recordings in asks of the server. */
import type { ImportAnswer, ImportPreview, ImportPreviewRequest, Task } from '@ambipede/shared';
import { exchange, request } from '../api.ts';

/** Other recordings may be read before this one, and a large one takes a while on a weak line. */
const IMPORT_TIMEOUT_MS = 15 * 60_000;

const list = (athleteId: string): string => `/api/athletes/${encodeURIComponent(athleteId)}/imports`;

function post(path: string, type: string, body: Blob): Promise<ImportAnswer> {
  return exchange(path, { method: 'POST', headers: { 'content-type': type }, body }, IMPORT_TIMEOUT_MS);
}

export interface ArchiveQuery {
  fileName: string;
  /** Null: as the archive says. */
  task: Task | null;
  startedUtcMs: number | null;
}

export const importApi = {
  preview: (asked: ImportPreviewRequest) => request<ImportPreview>('POST', '/api/import/preview', asked),
  /** @param body a `CsvImport` as JSON */
  csv: (athleteId: string, body: Blob) => post(`${list(athleteId)}/csv`, 'application/json', body),
  archive: (athleteId: string, body: Blob, { fileName, task, startedUtcMs }: ArchiveQuery) => {
    const query = new URLSearchParams({ fileName });
    if (task !== null) query.set('task', task);
    if (startedUtcMs !== null) query.set('startedUtcMs', String(startedUtcMs));
    return post(`${list(athleteId)}/motion-bids?${query}`, 'application/x-tar', body);
  },
};
