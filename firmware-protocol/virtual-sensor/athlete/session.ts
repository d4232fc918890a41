/**
 * A whole session of the synthetic athlete: script > foot contacts > forces > motion of the body > sensors, and the truth.
 * Shares no code with the analysis.
 */
import { simulateBody } from './body.ts';
import type { AthleteProfile } from './profile.ts';
import type { ScriptStep } from './script.ts';
import { measure, sampleTimes, toSensorClock, type Columns, type SensorModel } from './sensor.ts';
import { layOut, type Mark } from './timeline.ts';
import { halfTurnTruth, landingTruth, singleLegTruth } from './act-truth.ts';
import { angleTruth, contactTruth, motionTruth, stanceTruth, type SessionTruth } from './truth.ts';

export interface SessionRequest {
  seed: number;
  athlete: AthleteProfile;
  script: readonly ScriptStep[];
  sensors: { pelvis: SensorModel; sternum?: SensorModel };
}

export interface SimulatedSession {
  /** Nominal rate of the pelvis sensor. */
  rateHz: number;
  streams: { pelvis: Columns; sternum?: Columns };
  sensors: { pelvis: SensorModel; sternum?: SensorModel };
  /** In the pelvis sensor's clock. */
  marks: Mark[];
  truth: SessionTruth;
}

export function simulateSession(request: SessionRequest): SimulatedSession {
  const { seed, athlete, sensors } = request;
  const { pelvis, sternum } = sensors;
  const timeline = layOut(request.script, athlete, seed);
  const body = simulateBody(timeline, athlete, seed);
  const clock = (sessionS: number) => toSensorClock(pelvis, sessionS);
  const times = sampleTimes(pelvis, (body.count - 1) * body.dt);
  const streams: SimulatedSession['streams'] = { pelvis: measure(body, body.pelvis, pelvis, 2 * seed) };
  if (sternum !== undefined) streams.sternum = measure(body, body.thorax, sternum, 2 * seed + 1);
  const ratio = sternum === undefined ? 1 : (1 + sternum.clock.skewPpm * 1e-6) / (1 + pelvis.clock.skewPpm * 1e-6);
  return {
    rateHz: pelvis.rateHz,
    streams,
    sensors,
    marks: timeline.marks.map((m) => ({ kind: m.kind, startS: clock(m.startS), endS: clock(m.endS) })),
    truth: {
      contacts: contactTruth(timeline, clock),
      angles: angleTruth(body, times, clock),
      stances: stanceTruth(body, timeline, clock, athlete.massKg),
      takeOffs: timeline.bouts.flatMap((bout) =>
        bout.takeOff === null
          ? []
          : [
              {
                t: clock(bout.takeOff.tS),
                side: bout.takeOff.side,
                flightS: bout.takeOff.flightS,
                landing: bout.takeOff.landing,
              },
            ],
      ),
      singleLegStands: singleLegTruth(body, timeline, clock),
      halfTurns: halfTurnTruth(body, timeline, clock),
      landings: landingTruth(body, timeline, clock),
      bodyMassKg: athlete.massKg,
      mounting: { pelvis: pelvis.mounting, ...(sternum === undefined ? {} : { sternum: sternum.mounting }) },
      clock: {
        sternumOffsetS: sternum === undefined ? 0 : sternum.clock.offsetS - ratio * pelvis.clock.offsetS,
        sternumSkewPpm: (ratio - 1) * 1e6,
      },
      referencePosture: athlete.referencePosture,
      restingLean: athlete.restingLean,
      motion: { pelvis: motionTruth(body, body.pelvis, times), thorax: motionTruth(body, body.thorax, times) },
    },
  };
}
