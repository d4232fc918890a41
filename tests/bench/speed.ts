/**
 * `npm run bench`: how fast the pure stages are, against real time, and what a live athlete holds in memory. Processor time of
 * the whole process, its collector's threads with it, so that a busy machine counts less; medians of repeated runs.
 */
import { cpus } from 'node:os';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import {
  randomAthlete,
  realistic,
  simulateSession,
  type ScriptStep,
} from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { analyseRecording } from '../../server/src/analysis.ts';
import type { ImuSample, Recording } from '../../server/src/motion/types.ts';
import { startPipeline, stepPipeline, type PipelineState } from '../../server/src/pipeline.ts';
import { toRecording } from './synthetic-tasks.ts';

const REPEATS = 15;
/** Until the compiler has settled: its threads count as processor time too. What the very first run takes is shown beside. */
const WARM_UPS = 10;
const ATHLETES = 8;
const STREAMED_S = 300;
const BATCH = 8;

const LEAD_IN: ScriptStep[] = [
  { kind: 'reference_stand', seconds: 6 },
  { kind: 'forward_bow', seconds: 12 },
  { kind: 'pause', seconds: 3 },
];
const WALK_AND_RUN: ScriptStep[] = [
  { kind: 'walk', seconds: 30, cadencePerMin: 108 },
  { kind: 'pause', seconds: 3 },
  { kind: 'run', seconds: 60, cadencePerMin: 170, speedMps: 3.5 },
  { kind: 'pause', seconds: 3 },
];

function recordingOf(times: number): Recording {
  const simulated = simulateSession({
    seed: 1,
    athlete: randomAthlete(1),
    sensors: { pelvis: realistic('pelvis', 1), sternum: realistic('sternum', 2) },
    script: [...LEAD_IN, ...Array.from({ length: times }, () => WALK_AND_RUN).flat()],
  });
  return toRecording(simulated, 'run');
}

function secondsOf({ spanS }: Recording): number {
  return spanS[1] - spanS[0];
}

/** Both sensors in turns, from the first sample to that at `untilS`, and each step of the lead-in when it has ended. */
function stream({ streams, marks }: Recording, untilS = Infinity): PipelineState {
  const { rateHz } = streams.pelvis!;
  const state = startPipeline({ rateHz: { pelvis: rateHz, sternum: rateHz } });
  const pelvis = streams.pelvis!.samples;
  const sternum = streams.sternum!.samples;
  const part = (samples: ImuSample[], i: number): ImuSample[] => samples.slice(i, i + BATCH);
  for (let i = 0; i < pelvis.length && pelvis[i]!.tS < untilS; i += BATCH) {
    stepPipeline(state, { kind: 'samples', place: 'sternum', samples: part(sternum, i) });
    stepPipeline(state, { kind: 'samples', place: 'pelvis', samples: part(pelvis, i) });
    for (const mark of marks) {
      if (mark.endS <= pelvis[i]!.tS && mark.endS > pelvis[i]!.tS - BATCH / rateHz)
        stepPipeline(state, { kind: 'lead-in', mark });
    }
  }
  return state;
}

function processorMs(work: () => void): number {
  const start = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(start);
  return (user + system) / 1000;
}

function measure(work: () => void): { firstMs: number; medianMs: number } {
  const firstMs = processorMs(work);
  for (let i = 1; i < WARM_UPS; i += 1) work();
  const times = Array.from({ length: REPEATS }, () => processorMs(work));
  return { firstMs, medianMs: times.sort((a, b) => a - b)[REPEATS >> 1]! };
}

setFlagsFromString('--expose-gc');
const collect = runInNewContext('gc') as () => void;

/** Buffers are given back a little later than the objects that hold them. */
async function heldBytes(): Promise<number> {
  const ROUNDS = 4;
  const PAUSE_MS = 50;
  for (let i = 0; i < ROUNDS; i += 1) {
    collect();
    await new Promise((done) => setTimeout(done, PAUSE_MS));
  }
  const { heapUsed, arrayBuffers } = process.memoryUsage();
  return heapUsed + arrayBuffers;
}

async function bytesPerAthlete(recording: Recording): Promise<number> {
  const athletes = Array.from({ length: ATHLETES }, () => stream(recording, STREAMED_S));
  const held = await heldBytes();
  const { length } = athletes.splice(0);
  return (held - (await heldBytes())) / length;
}

const short = recordingOf(1);
const long = recordingOf(6);
const rateHz = short.streams.pelvis!.rateHz;
console.log(
  `${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores, Node ${process.version}; two sensors at ${rateHz} Hz, processor time, median of ${REPEATS}`,
);
for (const [name, recording, work] of [
  ['re-analysis (goal 1000 x)', short, () => analyseRecording(short)],
  ['re-analysis, long session', long, () => analyseRecording(long)],
  ['live pipeline', short, () => stream(short)],
] as const) {
  const { firstMs, medianMs } = measure(work);
  const seconds = secondsOf(recording);
  console.log(
    `${name.padEnd(28)}${seconds.toFixed(0).padStart(5)} s in${medianMs.toFixed(0).padStart(6)} ms   ${((seconds * 1000) / medianMs).toFixed(0).padStart(6)} x real time (first run here: ${firstMs.toFixed(0)} ms)`,
  );
}
const bytes = await bytesPerAthlete(long);
console.log(
  `a live athlete holds, after ${STREAMED_S} s: ${(bytes / 1024).toFixed(0)} KiB (100 athletes and the server: goal 512 MiB)`,
);
