/** Entry of the thread that makes the demo athlete's movement, so that the server is not kept waiting meanwhile. */
import { parentPort } from 'node:worker_threads';
import {
  demoScript,
  exampleAthlete,
  realistic,
  simulateSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { Columns, Mark, ScriptStep } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { SEED } from './people.ts';

export interface MovementRequest {
  /** 0 begins with the lead-in; later parts go on from a stand. */
  part: number;
}

export interface Movement {
  marks: Mark[];
  streams: { pelvis: Columns; sternum: Columns };
  rateHz: number;
}

const FURTHER_TRIALS: ScriptStep[] = [
  { kind: 'pause', seconds: 4 },
  { kind: 'run', seconds: 20, cadencePerMin: 168, speedMps: 3.4 },
  { kind: 'pause', seconds: 5 },
  { kind: 'stand', seconds: 8 },
  { kind: 'pause', seconds: 3 },
  { kind: 'walk', seconds: 24, cadencePerMin: 112 },
  { kind: 'pause', seconds: 5 },
  { kind: 'run-up', steps: 15, topSpeedMps: 6, takeOff: { side: 'left', flightS: 0.45, landing: 'both' } },
  { kind: 'pause', seconds: 4 },
];

if (!parentPort) throw new Error('movement-worker.ts runs as a worker thread only');
const port = parentPort;

port.on('message', ({ part }: MovementRequest) => {
  const { marks, streams, rateHz } = simulateSession({
    seed: SEED + part,
    athlete: exampleAthlete(SEED),
    script: part === 0 ? demoScript() : FURTHER_TRIALS,
    sensors: { pelvis: realistic('pelvis', SEED), sternum: realistic('sternum', SEED) },
  });
  if (!streams.sternum) throw new Error('the simulation left out the sternum');
  port.postMessage({ marks, rateHz, streams: { pelvis: streams.pelvis, sternum: streams.sternum } } satisfies Movement);
});
