/** Refills a live pipeline with the lead-in of an open session, after a restart of the server or a change of sensors. */
import { PLACES } from '@ambipede/shared';
import type { PipelineInput } from '../pipeline.ts';
import { leadInInput } from './athlete-feed.ts';
import { samplesWithin } from './recording.ts';
import type { LeadInSpan, WindowBatches } from './recording.ts';

/** Both sensors are fed in turns this long, as they would arrive. */
const TURN_S = 0.5;

export function leadInReplay(leadIn: readonly LeadInSpan[], raw: WindowBatches, baseUtcMs: number): PipelineInput[] {
  const inputs: PipelineInput[] = [];
  const marks = leadIn.map((span) => leadInInput(span, baseUtcMs));
  for (const { window, batches } of raw) {
    const streams = PLACES.map((place) => ({
      place,
      samples: samplesWithin(batches[place] ?? [], window, baseUtcMs),
      at: 0,
    }));
    const endS = (window[1] - baseUtcMs) / 1000;
    for (let untilS = (window[0] - baseUtcMs) / 1000 + TURN_S; untilS < endS + TURN_S; untilS += TURN_S) {
      for (const stream of streams) {
        const from = stream.at;
        while (stream.at < stream.samples.length && stream.samples[stream.at]!.tS < untilS) stream.at += 1;
        if (stream.at > from) {
          inputs.push({ kind: 'samples', place: stream.place, samples: stream.samples.slice(from, stream.at) });
        }
      }
      while (marks[0]?.kind === 'lead-in' && marks[0].mark.endS < untilS) inputs.push(marks.shift()!);
    }
  }
  return [...inputs, ...marks];
}
