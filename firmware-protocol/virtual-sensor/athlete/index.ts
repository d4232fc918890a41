/** The synthetic athlete: forces, motion, sensors and exact truth, by seed. No dependency, no file access but in `motion-bids`. */
export { simulateSession, type SessionRequest, type SimulatedSession } from './session.ts';
export { exampleAthlete, randomAthlete, symmetricAthlete, type AthleteProfile, type GaitStyle } from './profile.ts';
export { demoScript, type ScriptStep, type CurveOptions } from './script.ts';
export { ideal, realistic, type Columns, type SensorModel, type SensorPlace } from './sensor.ts';
export { readingsOf } from './readings.ts';
export { writeMotionBids, truthJson } from './motion-bids.ts';
export type { Mark } from './timeline.ts';
export type { SessionTruth, TruthAngles, TruthContact, TruthStance } from './truth.ts';
export type { TruthHalfTurn, TruthHold, TruthLanding, TruthSingleLegStand } from './act-truth.ts';
