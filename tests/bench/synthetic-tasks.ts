/** What the synthetic athlete does in the benches, and how a simulated session becomes a recording. */
import {
  realistic,
  simulateSession,
  type AthleteProfile,
  type ScriptStep,
  type SimulatedSession,
} from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import type { ImuSample, Recording } from '../../server/src/motion/types.ts';

export interface SyntheticTask {
  name: string;
  task: string;
  windowS: number;
  steps: ScriptStep[];
}

export const SYNTHETIC_TASKS: SyntheticTask[] = [
  { name: 'walk 108/min', task: 'walk', windowS: 0.1, steps: [{ kind: 'walk', seconds: 30, cadencePerMin: 108 }] },
  { name: 'walk 65/min (slow)', task: 'walk', windowS: 0.1, steps: [{ kind: 'walk', seconds: 40, cadencePerMin: 65 }] },
  {
    name: 'walk with a limp',
    task: 'walk',
    windowS: 0.1,
    steps: [
      { kind: 'walk', seconds: 30, cadencePerMin: 95, limp: { side: 'right', stepTimeShare: 0.85, extraLeanDeg: 4 } },
    ],
  },
  {
    name: 'run 160/min 2.8 m/s',
    task: 'run',
    windowS: 0.06,
    steps: [{ kind: 'run', seconds: 25, cadencePerMin: 160, speedMps: 2.8 }],
  },
  {
    name: 'run 180/min 4.5 m/s',
    task: 'run',
    windowS: 0.06,
    steps: [{ kind: 'run', seconds: 25, cadencePerMin: 180, speedMps: 4.5 }],
  },
  {
    name: 'run 200/min 6 m/s',
    task: 'run',
    windowS: 0.06,
    steps: [{ kind: 'run', seconds: 20, cadencePerMin: 200, speedMps: 6 }],
  },
  {
    name: 'run, 15 m curve',
    task: 'run',
    windowS: 0.06,
    steps: [
      {
        kind: 'run',
        seconds: 20,
        cadencePerMin: 175,
        speedMps: 4.5,
        curve: { direction: 'left', radiusM: 15, afterS: 5, seconds: 8 },
      },
    ],
  },
  {
    name: 'strides 125/min',
    task: 'run',
    windowS: 0.06,
    steps: [{ kind: 'run', seconds: 14, cadencePerMin: 125, speedMps: 5, contactTimeS: 0.22 }],
  },
  {
    name: 'strides, mark to mark',
    task: 'strides',
    windowS: 0.06,
    steps: [
      { kind: 'strides', speedMps: 4.6, lengthsM: [2.1, 1.9, 2.4, 2, 2.3, 1.8, 2.4, 2.2, 2, 2.3] },
      { kind: 'pause', seconds: 4 },
      { kind: 'strides', speedMps: 5.2, lengthsM: [2.4, 2.1, 2.6, 2.3, 2.7, 2.2, 2.5, 2.3, 2.6] },
    ],
  },
  {
    name: 'walk, turns on the spot',
    task: 'walk',
    windowS: 0.1,
    steps: (['left', 'right'] as const).map((direction) => ({
      kind: 'walk' as const,
      seconds: 20,
      cadencePerMin: 90,
      speedMps: 0.8,
      // Half a turn within 3 s.
      curve: { direction, radiusM: 0.75, afterS: 9, seconds: 3 },
    })),
  },
  {
    name: 'run-ups with take-off',
    task: 'run-up',
    windowS: 0.06,
    steps: [
      { kind: 'run-up', steps: 14, topSpeedMps: 7.5, takeOff: { side: 'left', flightS: 0.5, landing: 'both' } },
      { kind: 'pause', seconds: 4 },
      { kind: 'run-up', steps: 15, topSpeedMps: 8, takeOff: { side: 'right', flightS: 0.5, landing: 'both' } },
    ],
  },
];

export function toRecording(session: SimulatedSession, task: string): Recording {
  const samples = (c: SimulatedSession['streams']['pelvis']): ImuSample[] =>
    Array.from(c.tS, (tS, i) => ({
      tS,
      ax: c.ax[i]!,
      ay: c.ay[i]!,
      az: c.az[i]!,
      gx: c.gx[i]!,
      gy: c.gy[i]!,
      gz: c.gz[i]!,
    }));
  const pelvis = samples(session.streams.pelvis);
  return {
    task,
    streams: {
      pelvis: { samples: pelvis, rateHz: session.rateHz },
      ...(session.streams.sternum
        ? { sternum: { samples: samples(session.streams.sternum), rateHz: session.rateHz } }
        : {}),
    },
    marks: session.marks,
    separateClocks: false,
    spanS: [pelvis[0]!.tS, pelvis[pelvis.length - 1]!.tS],
  };
}

/** Lead-in, the steps, and a stand at the end, with crooked, biased, wobbling sensors. */
export function session(seed: number, athlete: AthleteProfile, steps: ScriptStep[]): SimulatedSession {
  return simulateSession({
    seed,
    athlete,
    sensors: { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed + 500) },
    script: [
      { kind: 'pause', seconds: 2 },
      { kind: 'reference_stand', seconds: 6 },
      { kind: 'forward_bow', seconds: 12 },
      { kind: 'pause', seconds: 3 },
      ...steps,
      { kind: 'pause', seconds: 4 },
    ],
  });
}
