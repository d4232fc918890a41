/**
 * The final analysis of one recording: of a stored trial (re-analysis) or of a recording folder. Pure: the same recording
 * gives the same bytes.
 *
 *   regularise > fuse > smooth > clocks of the two sensors > calibration (mounting) > body-pipeline.ts > result
 */
import { ALGORITHM_VERSION, type AnalysisResult, type Place } from '@ambipede/shared';
import { flushBody, startBody, stepBody, stepSegment, type BodyOutput, type BodyState } from './body-pipeline.ts';
import { fixedPose, fuseWithFixedPose, withoutAngles } from './motion/acceleration-only.ts';
import { addLeadIn, bestMounting, isLeadIn, startCalibration, stepCalibration } from './motion/calibration.ts';
import { matchClocks, type ClockRelation, type SharedMovement } from './motion/clock-match.ts';
import { fuseInto, startFusion } from './motion/fuse.ts';
import { GRAVITY_NOMINAL, setMounting, startMount, stepMount } from './motion/mount.ts';
import type { Mounting } from './motion/mounting-lead-in.ts';
import { exchangeRemark, seatInWords } from './motion/seat.ts';
import { conjugate, fromColumns, multiply, rotate } from './motion/quaternion.ts';
import { startRegularise, stepRegularise } from './motion/regularise.ts';
import {
  addPose,
  emptyPose,
  posesWithin,
  readPose,
  setTimeAt,
  startTrack,
  timeAt,
  type PoseTrack,
} from './motion/pose-track.ts';
import { smoothTrack } from './motion/smooth.ts';
import type { FusedSample, Mark, Recording, RecordedStream } from './motion/types.ts';
import { assembleResult } from './result.ts';
import type { SidedContact } from './stance/types.ts';

/** One sensor after the stages that need only itself. */
export interface FusedStream {
  track: PoseTrack;
  rateHz: number;
  hasGyroscope: boolean;
  mounting: Mounting | null;
  /** Why its lead-in gave none, in plain words. */
  problem: string | null;
}

export function analyseRecording(recording: Recording): AnalysisResult {
  const pelvisStream = recording.streams.pelvis;
  if (!pelvisStream) throw new RangeError('A recording without a pelvis sensor cannot be analysed.');
  const pelvis = fuseStream(pelvisStream);
  const sternum = recording.streams.sternum ? fuseStream(recording.streams.sternum) : null;
  const remarks: string[] = [];

  let relation: ClockRelation | null = null;
  if (sternum && recording.separateClocks) {
    relation = matchClocks(sharedMovement(pelvis), sharedMovement(sternum));
    if (relation === null)
      remarks.push(
        'The clocks of the two sensors could not be compared by movement (nothing but like steps, or too little): the trunk may be out of step with the pelvis. Begin with the lead-in.',
      );
    else moveClock(sternum, relation);
  }
  calibrate(pelvis, recording.marks);
  if (sternum) {
    calibrate(sternum, recording.marks);
    if (pelvis.mounting && sternum.mounting) agreeOnForward(pelvis, sternum);
    const exchanged = exchangeRemark(pelvis.mounting, sternum.mounting);
    if (exchanged !== null) remarks.push(exchanged);
  }

  const body = startBody(pelvis.rateHz, Infinity);
  const contacts = run(body, pelvis, sternum);
  return assembleResult(recording, { pelvis, sternum, body, contacts, relation, remarks, version: ALGORITHM_VERSION });
}

function fuseStream(stream: RecordedStream): FusedStream {
  const hasGyroscope = stream.samples.some((s) => Number.isFinite(s.gx + s.gy + s.gz));
  const regularise = startRegularise(stream.rateHz, hasGyroscope);
  const track = startTrack(stream.samples.length);
  if (hasGyroscope) {
    const fusion = startFusion(stream.rateHz);
    const pose = emptyPose();
    for (const sample of stream.samples)
      for (const grid of stepRegularise(regularise, sample)) addPose(track, fuseInto(pose, fusion, grid));
    smoothTrack(track, fusion, stream.rateHz);
  } else {
    const grid = stream.samples.flatMap((sample) => stepRegularise(regularise, sample));
    const pose = fixedPose(grid);
    for (const sample of grid) addPose(track, fuseWithFixedPose(sample, pose));
  }
  return { track, rateHz: stream.rateHz, hasGyroscope, mounting: null, problem: null };
}

const LOCOMOTION: readonly string[] = ['walk', 'run', 'strides', 'run-up'];
/** The still moments before and after belong to it: starting and stopping tell which way is forward. */
const BEFORE_S = 3;

function calibrate(stream: FusedStream, marks: readonly Mark[]): void {
  if (!stream.hasGyroscope) {
    stream.mounting = upright(stream);
    return;
  }
  const calibration = startCalibration(stream.rateHz, stream.rateHz, Infinity);
  for (const mark of marks.filter(isLeadIn)) {
    addLeadIn(calibration, mark.kind, posesWithin(stream.track, mark.startS, mark.endS));
  }
  stream.mounting = bestMounting(calibration);
  if (stream.mounting === null) {
    const isLocomotion = locomotionFilter(marks);
    const pose = emptyPose();
    for (let i = 0; i < stream.track.length; i += 1) {
      if (isLocomotion(timeAt(stream.track, i))) stepCalibration(calibration, readPose(stream.track, i, pose));
    }
    stream.mounting = bestMounting(calibration);
  }
  stream.problem = calibration.problem;
  if (stream.mounting !== null) stream.mounting.report.seat = seatInWords(stream.mounting);
}

/** Where the locomotion is marked, the rest teaches nothing about how the athlete travels. */
function locomotionFilter(marks: readonly Mark[]): (tS: number) => boolean {
  const spans = marks.filter((m) => LOCOMOTION.includes(m.kind));
  if (spans.length === 0) return () => true;
  return (tS) => spans.some((m) => tS >= m.startS - BEFORE_S && tS <= m.endS + BEFORE_S);
}

/** Without a gyroscope nothing turns: any upright mounting will do, since only the vertical counts. */
function upright(stream: FusedStream): Mounting | null {
  if (stream.track.length === 0) return null;
  const inverse = conjugate(readPose(stream.track, 0, emptyPose()).orientation);
  const up = rotate(inverse, 0, 0, 1);
  const right = rotate(inverse, 0, 1, 0);
  const forward = rotate(inverse, -1, 0, 0);
  return {
    quaternion: conjugate(fromColumns(forward, up, right)),
    gravity: GRAVITY_NOMINAL,
    report: { source: 'none', quaternion: null, frontalUncertaintyDeg: null, remarks: [], details: {} },
  };
}

/** What both sensors feel, and what needs no mounting. */
function sharedMovement(stream: FusedStream): SharedMovement {
  const movement = { t: [] as number[], vertical: [] as number[], turning: [] as number[] };
  const s = emptyPose();
  for (let i = 0; i < stream.track.length; i += 1) {
    readPose(stream.track, i, s);
    movement.t.push(s.tS);
    movement.vertical.push(rotate(s.orientation, s.ax, s.ay, s.az)[2] - GRAVITY_NOMINAL);
    movement.turning.push(Math.hypot(s.gx - s.biasX, s.gy - s.biasY, s.gz - s.biasZ));
  }
  return movement;
}

function moveClock({ track }: FusedStream, relation: ClockRelation): void {
  for (let i = 0; i < track.length; i += 1) {
    const tS = timeAt(track, i);
    setTimeAt(track, i, tS + (relation.offsetS + relation.skew * (tS - relation.atS)));
  }
}

/**
 * Both sensors travel the same way. Where the direction was told from movement and the two disagree, the one that was
 * less sure is turned round.
 */
function agreeOnForward(pelvis: FusedStream, sternum: FusedStream): void {
  const certainty = (m: Mounting): number =>
    m.report.source === 'lead-in'
      ? Infinity
      : Math.abs(
          (m.report.details['voteStart'] ?? 0) +
            (m.report.details['voteTurn'] ?? 0) +
            (m.report.details['voteRhythm'] ?? 0),
        );
  const p = pelvis.mounting;
  const s = sternum.mounting;
  if (!p || !s || (p.report.source === 'lead-in' && s.report.source === 'lead-in')) return;
  if (forwardCorrelation(pelvis, sternum) >= 0) return;
  const weaker = certainty(p) < certainty(s) ? p : s;
  weaker.quaternion = multiply({ w: 0, x: 0, y: 1, z: 0 }, weaker.quaternion);
  const { w, x, y, z } = weaker.quaternion;
  weaker.report.quaternion = [w, x, y, z];
  weaker.report.seat = seatInWords(weaker);
  weaker.report.remarks.push('Front and back were taken from the other sensor, which was surer.');
}

function forwardCorrelation(pelvis: FusedStream, sternum: FusedStream): number {
  const own = forwardOf(pelvis);
  const other = forwardOf(sternum);
  let sum = 0;
  let k = 0;
  for (const { tS, forward } of own) {
    while (k < other.length - 1 && other[k]!.tS < tS) k += 1;
    const match = other[k];
    if (match && Math.abs(match.tS - tS) < 0.05) sum += forward * match.forward;
  }
  return sum;
}

function forwardOf(stream: FusedStream): { tS: number; forward: number }[] {
  const state = startMount(stream.mounting?.quaternion ?? null);
  const pose = emptyPose();
  const out: { tS: number; forward: number }[] = [];
  for (let i = 0; i < stream.track.length; i += 1)
    for (const { tS, forward } of stepMount(state, readPose(stream.track, i, pose))) out.push({ tS, forward });
  return out;
}

/** Sensors' samples in the order of time, as they would come live without delay. The angles stay in the state. */
function run(body: BodyState, pelvis: FusedStream, sternum: FusedStream | null): SidedContact[] {
  for (const [place, stream] of [
    ['pelvis', pelvis],
    ['sternum', sternum],
  ] as const) {
    if (stream?.mounting) setMounting(body.mount[place], stream.mounting.quaternion, stream.mounting.gravity);
  }
  const contacts: SidedContact[] = [];
  const pose = emptyPose();
  let j = 0;
  for (let i = 0; i < pelvis.track.length; i += 1) {
    const tS = timeAt(pelvis.track, i);
    const out: BodyOutput[] = [];
    while (sternum && j < sternum.track.length && timeAt(sternum.track, j) <= tS + 1 / sternum.rateHz) {
      stepStream(body, 'sternum', sternum, readPose(sternum.track, j, pose), out);
      j += 1;
    }
    stepStream(body, 'pelvis', pelvis, readPose(pelvis.track, i, pose), out);
    collect(out, contacts);
  }
  collect(flushBody(body), contacts);
  return contacts;
}

function stepStream(body: BodyState, place: Place, stream: FusedStream, pose: FusedSample, out: BodyOutput[]): void {
  if (stream.hasGyroscope) stepBody(body, place, pose, out);
  else for (const frame of stepMount(body.mount[place], pose)) stepSegment(body, place, withoutAngles(frame), out);
}

function collect(outputs: readonly BodyOutput[], contacts: SidedContact[]): void {
  for (const output of outputs) if (output.kind === 'contact') contacts.push(output.contact);
}
