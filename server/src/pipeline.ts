/**
 * The live wiring of the pure stages for one athlete: times and samples in, angles and stances out.
 *
 *   samples > regularise > fuse > (calibration: lead-in or movement gives the mounting) > body-pipeline.ts
 *
 * The final analysis (analysis.ts) runs the same stages with the mounting known from the start and poses smoothed.
 */
import type { MountingReport, Place, Stance } from '@ambipede/shared';
import { startBody, stepBody, type BodyState } from './body-pipeline.ts';
import {
  addLeadIn,
  bestMounting,
  startCalibration,
  stepCalibration,
  type CalibrationState,
} from './motion/calibration.ts';
import { fuseInto, startFusion, type FusionState } from './motion/fuse.ts';
import { FROM_MOVEMENT } from './motion/mounting-movement.ts';
import { setMounting } from './motion/mount.ts';
import type { Mounting } from './motion/mounting-lead-in.ts';
import { angleBetween } from './motion/quaternion.ts';
import { exchangeRemark, seatInWords } from './motion/seat.ts';
import { addPose, dropOldest, emptyPose, posesWithin, startTrack, type PoseTrack } from './motion/pose-track.ts';
import { startRegularise, stepRegularise, type RegulariseState } from './motion/regularise.ts';
import type { AngleFrame, FusedSample, ImuSample, Mark } from './motion/types.ts';
import type { SidedContact } from './stance/types.ts';

export type PipelineInput =
  | { kind: 'samples'; place: Place; samples: ImuSample[] }
  /** A lead-in step that has ended: calibration looks back at the samples of this span. */
  | { kind: 'lead-in'; mark: Mark };

export type PipelineOutput =
  | { kind: 'angles'; frame: AngleFrame }
  | { kind: 'contact'; contact: SidedContact }
  | { kind: 'stance'; stance: Stance; withdrawn: boolean }
  | { kind: 'mounting'; place: Place; report: MountingReport }
  | { kind: 'gap'; place: Place; startS: number; endS: number };

/** Samples kept for a lead-in step that is marked only when it has ended. */
export const LOOK_BACK_S = 60;
/** At this rate: bows are slow, and memory counts with a hundred athletes. */
export const LOOK_BACK_RATE_HZ = 50;
const LOOK_BACK_POSES = LOOK_BACK_S * LOOK_BACK_RATE_HZ;
/** The oldest are dropped in blocks of this many, so that the cost per sample stays small. */
const LOOK_BACK_BLOCK = LOOK_BACK_POSES / 10;
const LOOK_BACK_POSES_MAX = LOOK_BACK_POSES + LOOK_BACK_BLOCK;
/** Without a lead-in, how often the direction of travel is asked for, s of samples. */
export const MOVEMENT_CHECK_S = 2;
/** And how much locomotion it then takes at least, s. */
export const MOVEMENT_LIVE_S_MIN = 4;
/** A mounting told from movement is replaced when a later look differs by more than this, rad: each change breaks the stances it falls into. */
export const MOUNTING_CHANGE_MIN = (8 * Math.PI) / 180;

interface SensorState {
  readonly rateHz: number;
  regularise: RegulariseState;
  fusion: FusionState;
  calibration: CalibrationState;
  lookBack: PoseTrack;
  sinceLookBack: number;
  sinceCheckS: number;
  lastS: number;
  hasLeadIn: boolean;
  mounting: Mounting | null;
}

export interface PipelineState {
  sensors: Record<Place, SensorState>;
  body: BodyState;
}

const RATE_DEFAULT_HZ = 200;

/** State before the first sample; plain data, so that it can be copied, saved and restored. */
export function startPipeline(options: { rateHz: Partial<Record<Place, number>> }): PipelineState {
  const pelvisHz = options.rateHz.pelvis ?? RATE_DEFAULT_HZ;
  return {
    sensors: {
      pelvis: startSensor(pelvisHz),
      sternum: startSensor(options.rateHz.sternum ?? RATE_DEFAULT_HZ),
    },
    body: startBody(pelvisHz),
  };
}

function startSensor(rateHz: number): SensorState {
  return {
    rateHz,
    regularise: startRegularise(rateHz, true),
    fusion: startFusion(rateHz),
    calibration: startCalibration(LOOK_BACK_RATE_HZ, rateHz, FROM_MOVEMENT.liveMemoryS),
    lookBack: startTrack(LOOK_BACK_POSES_MAX),
    sinceLookBack: 0,
    sinceCheckS: 0,
    lastS: NaN,
    hasLeadIn: false,
    mounting: null,
  };
}

/** Takes one input, changes `state`, returns what came out, in order. Never throws on data. */
export function stepPipeline(state: PipelineState, input: PipelineInput): PipelineOutput[] {
  const out: PipelineOutput[] = [];
  if (input.kind === 'lead-in') {
    for (const place of ['pelvis', 'sternum'] as const) takeLeadIn(state, place, input.mark, out);
    return out;
  }
  const sensor = state.sensors[input.place];
  const fused = emptyPose();
  for (const sample of input.samples) {
    for (const grid of stepRegularise(sensor.regularise, sample)) {
      if (grid.fresh && !Number.isNaN(sensor.lastS)) {
        out.push({ kind: 'gap', place: input.place, startS: sensor.lastS, endS: grid.tS });
      }
      sensor.lastS = grid.tS;
      fuseInto(fused, sensor.fusion, grid);
      remember(sensor, fused);
      watchMovement(state, input.place, fused, out);
      stepBody(state.body, input.place, fused, out);
    }
  }
  return out;
}

function remember(sensor: SensorState, fused: FusedSample): void {
  sensor.sinceLookBack += LOOK_BACK_RATE_HZ / sensor.rateHz;
  if (sensor.sinceLookBack < 1 && !fused.fresh) return;
  sensor.sinceLookBack %= 1;
  addPose(sensor.lookBack, fused);
  if (sensor.lookBack.length === LOOK_BACK_POSES_MAX) dropOldest(sensor.lookBack, LOOK_BACK_BLOCK);
}

function takeLeadIn(state: PipelineState, place: Place, mark: Mark, out: PipelineOutput[]): void {
  const sensor = state.sensors[place];
  const within = posesWithin(sensor.lookBack, mark.startS, mark.endS);
  if (within.length === 0) return;
  addLeadIn(sensor.calibration, mark.kind, within);
  const mounting = bestMounting(sensor.calibration);
  if (mounting === null) {
    if (sensor.calibration.axes === 'mirrored') dropMounting(state, place);
    return tellUnusable(sensor, place, out);
  }
  sensor.hasLeadIn = mounting.report.source === 'lead-in';
  useMounting(state, place, mounting, out);
}

/** Also one told from movement before: its left is right. */
function dropMounting(state: PipelineState, place: Place): void {
  state.body.mount[place].mounting = null;
  state.sensors[place].mounting = null;
}

/** Nothing could be made of the lead-in: what to do is said, unless an earlier mounting still holds. */
function tellUnusable(sensor: SensorState, place: Place, out: PipelineOutput[]): void {
  const { problem } = sensor.calibration;
  if (problem === null || sensor.mounting !== null) return;
  const report: MountingReport = {
    source: 'none',
    quaternion: null,
    frontalUncertaintyDeg: null,
    remarks: [problem],
    details: {},
  };
  out.push({ kind: 'mounting', place, report });
}

function watchMovement(state: PipelineState, place: Place, fused: FusedSample, out: PipelineOutput[]): void {
  const sensor = state.sensors[place];
  if (sensor.hasLeadIn) return;
  stepCalibration(sensor.calibration, fused);
  sensor.sinceCheckS += 1 / sensor.rateHz;
  if (sensor.sinceCheckS < MOVEMENT_CHECK_S || sensor.calibration.movement.rhythm.movingS < MOVEMENT_LIVE_S_MIN) return;
  sensor.sinceCheckS = 0;
  const mounting = bestMounting(sensor.calibration);
  const current = state.body.mount[place].mounting;
  if (mounting === null || (current && angleBetween(current, mounting.quaternion) < MOUNTING_CHANGE_MIN)) return;
  useMounting(state, place, mounting, out);
}

function useMounting(state: PipelineState, place: Place, mounting: Mounting, out: PipelineOutput[]): void {
  setMounting(state.body.mount[place], mounting.quaternion, mounting.gravity);
  state.sensors[place].mounting = mounting;
  mounting.report.seat = seatInWords(mounting);
  const exchanged = exchangeRemark(state.sensors.pelvis.mounting, state.sensors.sternum.mounting);
  if (exchanged !== null) mounting.report.remarks.push(exchanged);
  out.push({ kind: 'mounting', place, report: mounting.report });
}
