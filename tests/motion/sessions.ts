/** Sessions of the synthetic athlete that several tests of this folder use. */
import {
  randomAthlete,
  simulateSession,
  type AthleteProfile,
  type ScriptStep,
  type SensorModel,
  type SimulatedSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';

export interface Sensors {
  pelvis: SensorModel;
  sternum?: SensorModel;
}

export const LEAD_IN: ScriptStep[] = [
  { kind: 'pause', seconds: 2 },
  { kind: 'reference_stand', seconds: 6 },
  { kind: 'pause', seconds: 1 },
  { kind: 'forward_bow', seconds: 12 },
  { kind: 'pause', seconds: 1 },
];

/** As the goals were measured: after 5 s of standing. */
export const RUN_UP_AND_CURVE: ScriptStep[] = [
  { kind: 'pause', seconds: 5 },
  {
    kind: 'run-up',
    steps: 14,
    topSpeedMps: 7.5,
    takeOff: { side: 'left', flightS: 0.5, landing: 'both' },
  },
  { kind: 'pause', seconds: 3 },
  {
    kind: 'run',
    seconds: 16,
    cadencePerMin: 175,
    speedMps: 4.5,
    curve: { direction: 'left', radiusM: 15, afterS: 5, seconds: 6 },
  },
  { kind: 'pause', seconds: 3 },
];

export function sessionOf(
  seed: number,
  script: readonly ScriptStep[],
  sensors: Sensors,
  athlete: AthleteProfile = randomAthlete(seed),
): SimulatedSession {
  return simulateSession({ seed, athlete, script, sensors });
}

export function runUpAndCurve(seed: number, sensors: Sensors): SimulatedSession {
  return sessionOf(seed, RUN_UP_AND_CURVE, sensors);
}
