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
import { startFusion, stepFusion } from './motion/fuse.ts';
import { GRAVITY_NOMINAL, setMounting, startMount, stepMount } from './motion/mount.ts';
import type { Mounting } from './motion/mounting-lead-in.ts';
import { exchangeRemark, seatInWords } from './motion/seat.ts';
import { conjugate, fromColumns, multiply, rotate } from './motion/quaternion.ts';
import { startRegularise, stepRegularise } from './motion/regularise.ts';
import { smoothPoses } from './motion/smooth.ts';
import type { FusedSample, GridSample, Mark, Recording, RecordedStream } from './motion/types.ts';
import { assembleResult } from './result.ts';

/** One sensor after the stages that need only itself. */
export interface FusedStream {
  samples: FusedSample[];
  rateHz: number;
  hasGyroscope: boolean;
  mounting: Mounting | null;
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
  const outputs = run(body, pelvis, sternum);
  return assembleResult(recording, { pelvis, sternum, body, outputs, relation, remarks, version: ALGORITHM_VERSION });
}

function fuseStream(stream: RecordedStream): FusedStream {
  const hasGyroscope = stream.samples.some((s) => Number.isFinite(s.gx + s.gy + s.gz));
  const regularise = startRegularise(stream.rateHz, hasGyroscope);
  const grid: GridSample[] = [];
  for (const sample of stream.samples) grid.push(...stepRegularise(regularise, sample));
  const base = { rateHz: stream.rateHz, hasGyroscope, mounting: null };
  if (!hasGyroscope) {
    const pose = fixedPose(grid);
    return { ...base, samples: grid.map((sample) => fuseWithFixedPose(sample, pose)) };
  }
  const fusion = startFusion(stream.rateHz);
  const forward = grid.map((sample) => stepFusion(fusion, sample));
  return { ...base, samples: smoothPoses(forward, fusion, stream.rateHz) };
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
    addLeadIn(
      calibration,
      mark.kind,
      stream.samples.filter((s) => s.tS >= mark.startS && s.tS <= mark.endS),
    );
  }
  stream.mounting = bestMounting(calibration);
  if (stream.mounting === null) {
    for (const sample of locomotionOf(stream, marks)) stepCalibration(calibration, sample);
    stream.mounting = bestMounting(calibration);
  }
  if (stream.mounting !== null) stream.mounting.report.seat = seatInWords(stream.mounting);
}

/** Where the locomotion is marked, the rest teaches nothing about how the athlete travels. */
function locomotionOf(stream: FusedStream, marks: readonly Mark[]): FusedSample[] {
  const spans = marks.filter((m) => LOCOMOTION.includes(m.kind));
  if (spans.length === 0) return stream.samples;
  return stream.samples.filter((s) => spans.some((m) => s.tS >= m.startS - BEFORE_S && s.tS <= m.endS + BEFORE_S));
}

/** Without a gyroscope nothing turns: any upright mounting will do, since only the vertical counts. */
function upright(stream: FusedStream): Mounting | null {
  const pose = stream.samples[0]?.orientation;
  if (!pose) return null;
  const inverse = conjugate(pose);
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
  return {
    t: stream.samples.map((s) => s.tS),
    vertical: stream.samples.map((s) => rotate(s.orientation, s.ax, s.ay, s.az)[2] - GRAVITY_NOMINAL),
    turning: stream.samples.map((s) => Math.hypot(s.gx - s.biasX, s.gy - s.biasY, s.gz - s.biasZ)),
  };
}

function moveClock(stream: FusedStream, relation: ClockRelation): void {
  for (const sample of stream.samples) sample.tS += relation.offsetS + relation.skew * (sample.tS - relation.atS);
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
  return stream.samples.flatMap((s) => stepMount(state, s));
}

/** Sensors' samples in the order of time, as they would come live without delay. */
function run(body: BodyState, pelvis: FusedStream, sternum: FusedStream | null): BodyOutput[] {
  for (const [place, stream] of [
    ['pelvis', pelvis],
    ['sternum', sternum],
  ] as const) {
    if (stream?.mounting) setMounting(body.mount[place], stream.mounting.quaternion, stream.mounting.gravity);
  }
  const out: BodyOutput[] = [];
  let j = 0;
  const step = (place: Place, stream: FusedStream, sample: FusedSample): void => {
    if (stream.hasGyroscope) {
      for (const output of stepBody(body, place, sample)) out.push(output);
      return;
    }
    for (const frame of stepMount(body.mount[place], sample)) stepSegment(body, place, withoutAngles(frame), out);
  };
  for (const sample of pelvis.samples) {
    while (sternum && j < sternum.samples.length && sternum.samples[j]!.tS <= sample.tS + 1 / sternum.rateHz) {
      step('sternum', sternum, sternum.samples[j]!);
      j += 1;
    }
    step('pelvis', pelvis, sample);
  }
  for (const output of flushBody(body)) out.push(output);
  return out;
}
