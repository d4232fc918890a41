/** Recordings of the synthetic athlete, from its sensors to what the final analysis starts from. */
import {
  ideal,
  randomAthlete,
  realistic,
  simulateSession,
  type AthleteProfile,
  type ScriptStep,
  type SimulatedSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { Recording } from '../../server/src/motion/types.ts';
import { samplesOf } from '../motion/drive.ts';

const LEAD_IN: ScriptStep[] = [
  { kind: 'pause', seconds: 2 },
  { kind: 'reference_stand', seconds: 6 },
  { kind: 'forward_bow', seconds: 12 },
  { kind: 'pause', seconds: 2 },
];

export function sessionOf(
  seed: number,
  steps: readonly ScriptStep[],
  sensors: 'ideal' | 'realistic',
  athlete: AthleteProfile = randomAthlete(seed),
): SimulatedSession {
  return simulateSession({
    seed,
    athlete,
    script: [...LEAD_IN, ...steps, { kind: 'pause', seconds: 3 }],
    sensors:
      sensors === 'ideal'
        ? { pelvis: ideal('pelvis'), sternum: ideal('sternum') }
        : { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed + 500) },
  });
}

export function recordingOf(session: SimulatedSession, task: string, bodyMassKg: number | null = null): Recording {
  const { rateHz, streams, marks } = session;
  const pelvis = samplesOf(streams.pelvis);
  return {
    task,
    streams: {
      pelvis: { samples: pelvis, rateHz },
      ...(streams.sternum && { sternum: { samples: samplesOf(streams.sternum), rateHz } }),
    },
    marks,
    separateClocks: false,
    spanS: [pelvis[0]!.tS, pelvis.at(-1)!.tS],
    bodyMassKg,
  };
}
