/** How far the samples of a trial reach, and what had not arrived of it when they were read, in words. */
import { PLACES } from '@ambipede/shared';
import type { Place } from '@ambipede/shared';
import type { TrialSpan, WindowBatches } from './recording.ts';

/** Less than this missing at the end is not worth a sentence. */
const MISSING_END_MS_TOLD = 200;

type Span = Pick<TrialSpan, 'startUtcMs' | 'endUtcMs'>;
/** Of each sensor worn: end of its last sample, 0 when there is none. `within`: there is one of the trial's own span. */
export type Reach = Partial<Record<Place, { untilUtcMs: number; within?: boolean }>>;

export function reachOf({ startUtcMs, endUtcMs }: Span, raw: WindowBatches): Reach {
  const reach: Reach = {};
  for (const place of PLACES) {
    const batches = raw.flatMap((window) => window.batches[place] ?? []);
    if (!raw.some((window) => window.batches[place])) continue;
    reach[place] = {
      untilUtcMs: batches.reduce((until, batch) => Math.max(until, batch.endUtcMs), 0),
      within: batches.some((batch) => batch.firstUtcMs < endUtcMs && batch.endUtcMs > startUtcMs),
    };
  }
  return reach;
}

export function missingAtEnd({ startUtcMs, endUtcMs }: Span, reach: Reach): string | null {
  const sentences = PLACES.flatMap((place) => {
    const of = reach[place];
    if (!of) return [];
    const missingMs = endUtcMs - Math.max(of.untilUtcMs, startUtcMs);
    if (missingMs <= MISSING_END_MS_TOLD) return [];
    return [`The last ${(missingMs / 1000).toFixed(1)} s of the ${place} sensor had not arrived.`];
  });
  if (sentences.length === 0) return null;
  return `${sentences.join(' ')} The trial is analysed again when they do.`;
}
