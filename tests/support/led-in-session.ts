/** The example athlete with both sensors: the lead-in, and then what a test is about. */
import {
  exampleAthlete,
  realistic,
  simulateSession,
  type ScriptStep,
} from '../../firmware-protocol/virtual-sensor/athlete/index.ts';

const LEAD_IN: ScriptStep[] = [
  { kind: 'pause', seconds: 2 },
  { kind: 'reference_stand', seconds: 5 },
  { kind: 'pause', seconds: 1 },
  { kind: 'forward_bow', seconds: 9 },
  { kind: 'pause', seconds: 1.5 },
];

export function ledInSession(seed: number, ...steps: ScriptStep[]): ReturnType<typeof simulateSession> {
  return simulateSession({
    seed,
    athlete: exampleAthlete(seed),
    script: [...LEAD_IN, ...steps],
    sensors: { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed) },
  });
}
