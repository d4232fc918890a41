/** `npm run bench`: how fast the pure stages are, against real time. Medians of repeated runs; the machine is named. */
import { cpus } from 'node:os';
import { randomAthlete, realistic, simulateSession } from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { analyseRecording } from '../../server/src/analysis.ts';
import { startPipeline, stepPipeline } from '../../server/src/pipeline.ts';
import { toRecording } from './synthetic-tasks.ts';

const REPEATS = 5;

const simulated = simulateSession({
  seed: 1,
  athlete: randomAthlete(1),
  sensors: { pelvis: realistic('pelvis', 1), sternum: realistic('sternum', 2) },
  script: [
    { kind: 'reference_stand', seconds: 6 },
    { kind: 'forward_bow', seconds: 12 },
    { kind: 'pause', seconds: 3 },
    { kind: 'walk', seconds: 30, cadencePerMin: 108 },
    { kind: 'pause', seconds: 3 },
    { kind: 'run', seconds: 60, cadencePerMin: 170, speedMps: 3.5 },
    { kind: 'pause', seconds: 3 },
  ],
});
const recording = toRecording(simulated, 'run');
const seconds = recording.spanS[1] - recording.spanS[0];

function medianMs(work: () => void): number {
  work();
  const times = Array.from({ length: REPEATS }, () => {
    const start = performance.now();
    work();
    return performance.now() - start;
  });
  return times.sort((a, b) => a - b)[REPEATS >> 1]!;
}

function live(): void {
  const state = startPipeline({ rateHz: { pelvis: simulated.rateHz, sternum: simulated.rateHz } });
  const pelvis = recording.streams.pelvis!.samples;
  const sternum = recording.streams.sternum!.samples;
  const BATCH = 8;
  for (let i = 0; i < pelvis.length; i += BATCH) {
    stepPipeline(state, { kind: 'samples', place: 'sternum', samples: sternum.slice(i, i + BATCH) });
    stepPipeline(state, { kind: 'samples', place: 'pelvis', samples: pelvis.slice(i, i + BATCH) });
    for (const mark of recording.marks) {
      if (mark.endS <= pelvis[i]!.tS && mark.endS > pelvis[i]!.tS - BATCH / simulated.rateHz)
        stepPipeline(state, { kind: 'lead-in', mark });
    }
  }
}

console.log(
  `${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores, Node ${process.version}; ${seconds.toFixed(0)} s, two sensors at ${simulated.rateHz} Hz, median of ${REPEATS}`,
);
for (const [name, work] of [
  ['re-analysis (goal 1000 x)', () => analyseRecording(recording)],
  ['live pipeline', live],
] as const) {
  const ms = medianMs(work);
  console.log(
    `${name.padEnd(28)}${ms.toFixed(0).padStart(6)} ms   ${((seconds * 1000) / ms).toFixed(0).padStart(6)} x real time`,
  );
}
