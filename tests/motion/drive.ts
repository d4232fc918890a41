/** Drives the motion stages with a sensor of the synthetic athlete, and compares with its truth. */
import { DEG_PER_RAD, RAD_PER_DEG, type Place } from '@ambipede/shared';
import type { Columns, SimulatedSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import {
  addLeadIn,
  bestMounting,
  isLeadIn,
  startCalibration,
  stepCalibration,
} from '../../server/src/motion/calibration.ts';
import { startFusion, stepFusion } from '../../server/src/motion/fuse.ts';
import { setMounting, startMount, stepMount } from '../../server/src/motion/mount.ts';
import type { Mounting } from '../../server/src/motion/mounting-lead-in.ts';
import { conjugate, cross, dot, rotate, type Vector } from '../../server/src/motion/quaternion.ts';
import { startRegularise, stepRegularise } from '../../server/src/motion/regularise.ts';
import { smoothPoses } from '../../server/src/motion/smooth.ts';
import type { FusedSample, ImuSample, SegmentFrame } from '../../server/src/motion/types.ts';

export function samplesOf(columns: Columns): ImuSample[] {
  return Array.from(columns.tS, (tS, i) => ({
    tS,
    ax: columns.ax[i]!,
    ay: columns.ay[i]!,
    az: columns.az[i]!,
    gx: columns.gx[i]!,
    gy: columns.gy[i]!,
    gz: columns.gz[i]!,
  }));
}

/** Poses as the live view has them, and as the final analysis does. */
export function fuseAll(samples: readonly ImuSample[], rateHz: number): { live: FusedSample[]; final: FusedSample[] } {
  const regularise = startRegularise(rateHz, true);
  const fusion = startFusion(rateHz);
  const live: FusedSample[] = [];
  for (const sample of samples)
    for (const grid of stepRegularise(regularise, sample)) live.push(stepFusion(fusion, grid));
  return { live, final: smoothPoses(live, fusion, rateHz) };
}

export function mountingOf(session: SimulatedSession, poses: readonly FusedSample[]): Mounting | null {
  const calibration = startCalibration(session.rateHz, session.rateHz, Infinity);
  for (const sample of poses) stepCalibration(calibration, sample);
  for (const mark of session.marks.filter(isLeadIn)) addLeadIn(calibration, mark.kind, within(poses, mark));
  return bestMounting(calibration);
}

export function within<T extends { tS: number }>(list: readonly T[], span: { startS: number; endS: number }): T[] {
  return list.filter((x) => x.tS >= span.startS && x.tS <= span.endS);
}

export function framesOf(mounting: Mounting, poses: readonly FusedSample[]): SegmentFrame[] {
  const state = startMount(null);
  setMounting(state, mounting.quaternion, mounting.gravity);
  return poses.flatMap((sample) => stepMount(state, sample));
}

export interface Driven {
  mounting: Mounting;
  live: SegmentFrame[];
  final: SegmentFrame[];
}

/** One sensor from samples to frames, its mounting estimated as the program does. */
export function drive(session: SimulatedSession, place: Place): Driven {
  const { live, final } = fuseAll(samplesOf(session.streams[place]!), session.rateHz);
  const mounting = mountingOf(session, final);
  if (mounting === null) throw new Error('no mounting');
  return { mounting, live: framesOf(mounting, live), final: framesOf(mounting, final) };
}

/** Lateral tilt against the truth, deg, within a span. */
export function lateralErrors(
  session: SimulatedSession,
  place: Place,
  frames: readonly SegmentFrame[],
  span: { startS: number; endS: number },
): { rms: number; mean: number; n: number } {
  const { angles } = session.truth;
  const truth = place === 'pelvis' ? angles.pelvicObliquityDeg : angles.trunkLateralTiltDeg;
  let k = 0;
  let sum = 0;
  let sum2 = 0;
  let n = 0;
  for (const frame of within(frames, span)) {
    while (k < angles.t.length - 1 && angles.t[k]! < frame.tS - 1e-6) k += 1;
    const error = frame.lateralTilt * DEG_PER_RAD - truth[k]!;
    sum += error;
    sum2 += error * error;
    n += 1;
  }
  return { rms: Math.sqrt(sum2 / n), mean: sum / n, n };
}

/**
 * Angle between the vertical as the poses have it and the true one, deg: root mean square within a span. With the true
 * mounting, so that nothing but the orientation filter is judged.
 */
export function inclinationRmsDeg(
  session: SimulatedSession,
  place: Place,
  poses: readonly FusedSample[],
  span: { startS: number; endS: number },
): number {
  const { angles, mounting } = session.truth;
  const [w, x, y, z] = mounting[place]!;
  const lateral = place === 'pelvis' ? angles.pelvicObliquityDeg : angles.trunkLateralTiltDeg;
  const forward = place === 'pelvis' ? angles.pelvicTiltDeg : angles.trunkForwardTiltDeg;
  let k = 0;
  let sum2 = 0;
  let n = 0;
  for (const pose of within(poses, span)) {
    while (k < angles.t.length - 1 && angles.t[k]! < pose.tS - 1e-6) k += 1;
    const l = lateral[k]! * RAD_PER_DEG;
    const f = forward[k]! * RAD_PER_DEG;
    const truth: Vector = [-Math.sin(f) * Math.cos(l), Math.cos(f) * Math.cos(l), Math.sin(l)];
    const seen = rotate({ w, x, y, z }, ...rotate(conjugate(pose.orientation), 0, 0, 1));
    const off = Math.hypot(...cross(truth, seen));
    sum2 += Math.atan2(off, dot(truth, seen)) ** 2;
    n += 1;
  }
  return Math.sqrt(sum2 / n) * DEG_PER_RAD;
}
