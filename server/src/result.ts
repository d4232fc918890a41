/** Puts what came out of the stages into the results format (DESIGN 4). */
import type { AnalysisQuality, AnalysisResult, AngleSeries, Contact } from '@ambipede/shared';
import type { FusedStream } from './analysis.ts';
import { stancesOfTask } from './asymmetry/stances-of-task.ts';
import { summariseAsymmetry } from './asymmetry/summary.ts';
import type { BodyState } from './body-pipeline.ts';
import { isLeadIn } from './motion/calibration.ts';
import type { ClockRelation } from './motion/clock-match.ts';
import { emptyPose, readPose, timeAt } from './motion/pose-track.ts';
import type { Recording } from './motion/types.ts';
import { withForces } from './stance/sine-wave.ts';
import { STANCES } from './stance/stances.ts';
import { indexAt, type StanceFrames } from './stance/stance-frames.ts';
import type { SidedContact } from './stance/types.ts';
import { waveformsOf } from './stance/waveforms.ts';
import { summariseTasks } from './tasks/summary.ts';

export interface Findings {
  pelvis: FusedStream;
  sternum: FusedStream | null;
  body: BodyState;
  /** As they came out, corrections after what they correct. */
  contacts: readonly SidedContact[];
  relation: ClockRelation | null;
  remarks: string[];
  version: string;
}

export function assembleResult(recording: Recording, findings: Findings): AnalysisResult {
  const { pelvis, sternum } = findings;
  const isWithin = spanFilter(recording);
  const { frames, published } = findings.body.stances;
  const stances = published
    .filter((s) => isWithin(s.initialContact))
    .map((stance) => withForces(stance, recording.bodyMassKg));
  const taskSpans = recording.marks.filter((m) => m.kind === recording.task);
  const ofTask = stancesOfTask(recording.task, stances, taskSpans);
  const contacts = contactsOf(findings.contacts, isWithin);
  return {
    version: findings.version,
    task: recording.task,
    clock: clockOf(recording, findings.relation),
    angles: anglesOf(frames, recording.spanS),
    contacts,
    stances,
    asymmetry: summariseAsymmetry(ofTask, {
      pelvis: pelvis.mounting?.report.frontalUncertaintyDeg ?? null,
      sternum: sternum?.mounting?.report.frontalUncertaintyDeg ?? null,
    }),
    waveforms: waveformsOf(frames, ofTask),
    taskSummary: summariseTasks({
      ...recording,
      frames,
      stances,
      contacts,
      mounting: { pelvis: pelvis.mounting?.report ?? null, sternum: sternum?.mounting?.report ?? null },
    }),
    quality: qualityOf(recording, findings, isWithin),
  };
}

function isInSpan(recording: Recording): (tS: number) => boolean {
  const [from, to] = recording.spanS;
  return (tS) => tS >= from && tS <= to;
}

/** Within the span of the result and outside the lead-in, where nobody walks. */
function spanFilter(recording: Recording): (tS: number) => boolean {
  const leadIn = recording.marks.filter(isLeadIn);
  const inSpan = isInSpan(recording);
  return (tS) => inSpan(tS) && !leadIn.some((m) => tS >= m.startS && tS <= m.endS);
}

/** Time on the sternum's clock = sternumOffsetS + (1 + sternumSkewPpm / 1e6) * time on the pelvis's clock. */
function clockOf(recording: Recording, relation: ClockRelation | null): AnalysisResult['clock'] {
  const acquired = recording.streams.sternum?.acquisitionOffsetS ?? 0;
  if (relation === null) return { sternumOffsetS: round(-acquired, 5), sternumSkewPpm: 0 };
  return {
    sternumOffsetS: round(-(acquired + relation.offsetS - relation.skew * relation.atS), 5),
    sternumSkewPpm: round(-relation.skew * 1e6, 1),
  };
}

function anglesOf(frames: StanceFrames, [fromS, toS]: [number, number]): AngleSeries {
  const from = indexAt(frames, fromS);
  let end = indexAt(frames, toS);
  if (frames.t[end] === toS) end += 1;
  const angle = (column: readonly number[]): (number | null)[] => column.slice(from, end).map(known);
  return {
    t: frames.t.slice(from, end).map((tS) => round(tS, 5)),
    pelvicObliquityDeg: angle(frames.obliquityDeg),
    trunkLateralTiltDeg: angle(frames.trunkTiltDeg),
    pelvicTiltDeg: angle(frames.pelvicTiltDeg),
    trunkForwardTiltDeg: angle(frames.trunkForwardTiltDeg),
    separationDeg: angle(frames.separationDeg),
  };
}

/** The last word on every contact, in order of time. */
function contactsOf(contacts: readonly SidedContact[], isWithin: (tS: number) => boolean): Contact[] {
  const last = new Map(contacts.map((contact) => [contact.id, contact]));
  return [...last.values()]
    .filter((c) => !c.withdrawn && isWithin(c.tS))
    .sort((a, b) => a.tS - b.tS)
    .map(contactOf);
}

/** As it is shown, live and in the end. */
export function contactOf(c: SidedContact): Contact {
  return {
    t: round(c.tS, 5),
    // A guess is worse than no word: a wrong side would silently invert the result.
    side: c.sidePosterior >= STANCES.sidePosteriorMin ? c.side : 'unknown',
    type: c.type,
    confidence: round(c.confidence * (c.side === 'unknown' ? 1 : c.sidePosterior), 4),
  };
}

function qualityOf(recording: Recording, findings: Findings, isWithin: (tS: number) => boolean): AnalysisQuality {
  const { pelvis, sternum, body } = findings;
  const streams = sternum ? [pelvis, sternum] : [pelvis];
  const lost = body.stances.lost.filter((l) => isWithin(l.tS));
  const stancesLostBy: AnalysisQuality['stancesLostBy'] = {};
  for (const { reason } of lost) stancesLostBy[reason] = (stancesLostBy[reason] ?? 0) + 1;
  const remarks = [...findings.remarks];
  if (!pelvis.hasGyroscope)
    remarks.push('The pelvis sensor has no gyroscope readings: no angles and no sides, contacts only.');
  else if (pelvis.mounting === null)
    remarks.push(
      pelvis.problem === null
        ? 'No lead-in and no locomotion: how the pelvis sensor sits is not known, so there are no angles.'
        : `Pelvis: no angles and no sides. ${pelvis.problem}`,
    );
  if (!sternum) remarks.push('No sternum sensor: trunk tilt, side-bend and separation are not measured.');
  else if (sternum.mounting === null)
    remarks.push(
      sternum.problem === null
        ? 'How the sternum sensor sits is not known: trunk tilt is not measured.'
        : `Sternum: trunk tilt is not measured. ${sternum.problem}`,
    );
  const lacks = streams.map((stream) => lackingIn(stream, recording.spanS));
  return {
    gaps: lacks.reduce((sum, { gaps }) => sum + gaps, 0),
    samplesFilled: lacks.reduce((sum, { filled }) => sum + filled, 0),
    stancesLost: lost.length,
    stancesLostBy,
    mounting: {
      ...(pelvis.mounting ? { pelvis: pelvis.mounting.report } : {}),
      ...(sternum?.mounting ? { sternum: sternum.mounting.report } : {}),
    },
    settling: settlingS(pelvis),
    remarks,
  };
}

/** Filled samples, and gaps, filled and broken alike; what was left out between the lead-in and the trial is none. */
function lackingIn({ track }: FusedStream, [fromS, toS]: [number, number]): { gaps: number; filled: number } {
  const sample = emptyPose();
  let gaps = 0;
  let filled = 0;
  let isAfterOne = false;
  let isAfterFilled = false;
  for (let i = 0; i < track.length; i += 1) {
    readPose(track, i, sample);
    const isWithin = sample.tS >= fromS && sample.tS <= toS;
    if (isWithin && isAfterOne && (sample.fresh || (sample.filled && !isAfterFilled))) gaps += 1;
    if (isWithin && sample.filled) filled += 1;
    isAfterOne = isWithin;
    isAfterFilled = sample.filled;
  }
  return { gaps, filled };
}

/** Seconds until the uncertainty of the pose first fell under two degrees. */
function settlingS({ track, hasGyroscope }: FusedStream): number {
  if (!hasGyroscope || track.length === 0) return 0;
  const sample = emptyPose();
  let i = 0;
  while (i < track.length - 1 && !(readPose(track, i, sample).tiltSigma < (2 * Math.PI) / 180)) i += 1;
  return round(Math.max(0, timeAt(track, i) - timeAt(track, 0)), 3);
}

function known(value: number): number | null {
  return Number.isFinite(value) ? round(value, 4) : null;
}

const FACTORS = { 1: 1e1, 3: 1e3, 4: 1e4, 5: 1e5 } as const;

function round(value: number, decimals: keyof typeof FACTORS): number {
  const factor = FACTORS[decimals];
  return Math.round(value * factor) / factor;
}
