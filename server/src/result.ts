/** Puts what came out of the stages into the results format (DESIGN 4). */
import type { AnalysisQuality, AnalysisResult, AngleSeries, Contact } from '@ambipede/shared';
import type { FusedStream } from './analysis.ts';
import { stancesOfTask } from './asymmetry/stances-of-task.ts';
import { summariseAsymmetry } from './asymmetry/summary.ts';
import type { BodyOutput, BodyState } from './body-pipeline.ts';
import { isLeadIn } from './motion/calibration.ts';
import type { ClockRelation } from './motion/clock-match.ts';
import type { Recording } from './motion/types.ts';
import { withForces } from './stance/sine-wave.ts';
import { STANCES } from './stance/stances.ts';
import type { SidedContact } from './stance/types.ts';
import { waveformsOf } from './stance/waveforms.ts';
import { summariseTasks } from './tasks/summary.ts';

export interface Findings {
  pelvis: FusedStream;
  sternum: FusedStream | null;
  body: BodyState;
  outputs: readonly BodyOutput[];
  relation: ClockRelation | null;
  remarks: string[];
  version: string;
}

export function assembleResult(recording: Recording, findings: Findings): AnalysisResult {
  const { pelvis, sternum, outputs } = findings;
  const isWithin = spanFilter(recording);
  const { frames, published } = findings.body.stances;
  const stances = published
    .filter((s) => isWithin(s.initialContact))
    .map((stance) => withForces(stance, recording.bodyMassKg));
  const taskSpans = recording.marks.filter((m) => m.kind === recording.task);
  const ofTask = stancesOfTask(recording.task, stances, taskSpans);
  const contacts = contactsOf(outputs, isWithin);
  return {
    version: findings.version,
    task: recording.task,
    clock: clockOf(recording, findings.relation),
    angles: anglesOf(outputs, isInSpan(recording)),
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

function anglesOf(outputs: readonly BodyOutput[], isWithin: (tS: number) => boolean): AngleSeries {
  const series: AngleSeries = {
    t: [],
    pelvicObliquityDeg: [],
    trunkLateralTiltDeg: [],
    pelvicTiltDeg: [],
    trunkForwardTiltDeg: [],
    separationDeg: [],
  };
  for (const output of outputs) {
    if (output.kind !== 'angles' || !isWithin(output.frame.tS)) continue;
    const { frame } = output;
    series.t.push(round(frame.tS, 5));
    series.pelvicObliquityDeg.push(known(frame.pelvicObliquityDeg));
    series.trunkLateralTiltDeg.push(known(frame.trunkLateralTiltDeg));
    series.pelvicTiltDeg.push(known(frame.pelvicTiltDeg));
    series.trunkForwardTiltDeg.push(known(frame.trunkForwardTiltDeg));
    series.separationDeg.push(known(frame.separationDeg));
  }
  return series;
}

/** The last word on every contact, in order of time. */
function contactsOf(outputs: readonly BodyOutput[], isWithin: (tS: number) => boolean): Contact[] {
  const last = new Map<number, SidedContact>();
  for (const output of outputs) if (output.kind === 'contact') last.set(output.contact.id, output.contact);
  return [...last.values()]
    .filter((c) => !c.withdrawn && isWithin(c.tS))
    .sort((a, b) => a.tS - b.tS)
    .map((c) => ({
      t: round(c.tS, 5),
      // A guess is worse than no word: a wrong side would silently invert the result.
      side: c.sidePosterior >= STANCES.sidePosteriorMin ? c.side : 'unknown',
      type: c.type,
      confidence: round(c.confidence * (c.side === 'unknown' ? 1 : c.sidePosterior), 4),
    }));
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
    remarks.push('No lead-in and no locomotion: how the pelvis sensor sits is not known, so there are no angles.');
  if (!sternum) remarks.push('No sternum sensor: trunk tilt, side-bend and separation are not measured.');
  else if (sternum.mounting === null)
    remarks.push('How the sternum sensor sits is not known: trunk tilt is not measured.');
  return {
    gaps: streams.reduce((sum, s) => sum + gapsWithin(s, isInSpan(recording)), 0),
    samplesFilled: streams.reduce(
      (sum, s) => sum + s.samples.filter((x) => x.filled && isInSpan(recording)(x.tS)).length,
      0,
    ),
    stancesLost: lost.length,
    stancesLostBy,
    mounting: {
      ...(pelvis.mounting ? { pelvis: pelvis.mounting.report } : {}),
      ...(sternum?.mounting ? { sternum: sternum.mounting.report } : {}),
    },
    settling: settlingS(pelvis, recording),
    remarks,
  };
}

/** Filled and broken gaps alike; what was left out between the lead-in and the trial is none. */
function gapsWithin(stream: FusedStream, isWithin: (tS: number) => boolean): number {
  let gaps = 0;
  stream.samples.forEach((sample, i) => {
    const before = stream.samples[i - 1];
    if (before === undefined || !isWithin(before.tS) || !isWithin(sample.tS)) return;
    if (sample.fresh || (sample.filled && !before.filled)) gaps += 1;
  });
  return gaps;
}

/** Seconds until the uncertainty of the pose first fell under two degrees. */
function settlingS(pelvis: FusedStream, recording: Recording): number {
  const settled = pelvis.samples.find((s) => s.tiltSigma < (2 * Math.PI) / 180);
  const end = settled?.tS ?? pelvis.samples[pelvis.samples.length - 1]?.tS ?? recording.spanS[0];
  return pelvis.hasGyroscope ? round(Math.max(0, end - (pelvis.samples[0]?.tS ?? 0)), 3) : 0;
}

function known(value: number): number | null {
  return Number.isFinite(value) ? round(value, 4) : null;
}

function round(value: number, decimals: number): number {
  const factor = 10 ** decimals;
  return Math.round(value * factor) / factor;
}
