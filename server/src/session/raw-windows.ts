/** Loads what a recording or a replay is built from. */
import type { Place } from '@ambipede/shared';
import type { Db } from '../store/database.ts';
import { loadRawBatches } from '../store/raw-batches.ts';
import type { LeadInRow } from '../store/sessions.ts';
import type { LeadInSpan, Window, WindowBatches } from './recording.ts';

export type Devices = Partial<Record<Place, string>>;

export async function loadWindows(db: Db, devices: Devices, windows: readonly Window[]): Promise<WindowBatches> {
  const loaded: WindowBatches = [];
  for (const window of windows) {
    const batches: WindowBatches[number]['batches'] = {};
    for (const [place, deviceId] of Object.entries(devices)) {
      batches[place as Place] = await loadRawBatches(db, deviceId, window[0], window[1]);
    }
    loaded.push({ window, batches });
  }
  return loaded;
}

/** Steps that have ended. */
export function completedSpans(rows: readonly LeadInRow[]): LeadInSpan[] {
  return rows.flatMap(({ step, startUtcMs, endUtcMs }) => (endUtcMs === null ? [] : [{ step, startUtcMs, endUtcMs }]));
}
