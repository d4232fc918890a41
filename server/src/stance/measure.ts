/**
 * The metrics of one stance (BIOMECHANICS 5). Side-relative: `swing side` is the side whose foot is in the air, so that
 * left and right compare by subtraction. Definitions: docs/algorithms/metrics.md.
 */
import { STANDARD_GRAVITY_MPS2, type SideOrUnknown, type StanceMetrics } from '@ambipede/shared';
import { stepMovement } from './displacement.ts';
import { hasBreak, indexAt, type StanceFrames } from './stance-frames.ts';

export interface StanceTimes {
  side: SideOrUnknown;
  initialContactS: number;
  toeOffS: number;
  /** Next initial contact of any foot, and of the same foot; null when there is none in the same run of steps. */
  nextContactS: number | null;
  nextSameContactS: number | null;
  gait: 'walk' | 'run';
}

/** Height of the swing side is + obliquity on the left foot, - obliquity on the right one; so with lean and separation. */
export function signOf(side: SideOrUnknown | null): number {
  return side === 'left' ? 1 : side === 'right' ? -1 : NaN;
}

/** Values over the frames within the stance; angles are null without a side or without the sensor. */
export function measureStance(frames: StanceFrames, times: StanceTimes): StanceMetrics {
  const { initialContactS, nextContactS, nextSameContactS } = times;
  const from = indexAt(frames, initialContactS);
  const to = indexAt(frames, times.toeOffS + 1e-9);
  const contactTimeS = times.toeOffS - initialContactS;
  const sign = signOf(times.side);
  const swing = range(frames.obliquityDeg, from, to, sign);
  const lean = range(frames.trunkTiltDeg, from, to, sign);
  const obliquity = range(frames.obliquityDeg, from, to, 1);
  const trunk = range(frames.trunkTiltDeg, from, to, 1);
  const sideBend = rangeOfDifference(frames.trunkTiltDeg, frames.obliquityDeg, from, to, 1);
  const opening = rangeOfDifference(frames.trunkTiltDeg, frames.obliquityDeg, from, to, sign);
  const separation = range(frames.separationDeg, from, to, 1);
  const yaw = range(frames.yawRateDegPerS, from, to, 1);
  const pelvisPeak = range(frames.pelvisUp, from, to, 1).max;
  const sternumPeak = range(frames.sternumUp, from, to, 1).max;
  const movement =
    nextContactS === null || nextSameContactS === null
      ? null
      : stepMovement(frames, initialContactS, nextContactS, nextSameContactS);
  return {
    contactTimeS,
    flightTimeS: times.gait === 'run' && nextContactS !== null ? nextContactS - times.toeOffS : null,
    stepTimeS: nextContactS === null ? null : nextContactS - initialContactS,
    dutyFactor: nextSameContactS === null ? null : contactTimeS / (nextSameContactS - initialContactS),
    swingSideDropDeg: finite(-swing.min),
    swingSideLiftDeg: finite(swing.max),
    obliquityAtContactDeg: finite(swing.first),
    obliquityExcursionDeg: finite(obliquity.max - obliquity.min),
    leanToStanceMeanDeg: finite(lean.mean),
    leanToStancePeakDeg: finite(lean.max),
    trunkLeanExcursionDeg: finite(trunk.max - trunk.min),
    sideBendExcursionDeg: finite(sideBend.max - sideBend.min),
    swingSideClosingDeg: finite(opening.first - opening.min),
    separationRangeDeg: finite(separation.max - separation.min),
    chestLeadDeg: chestLead(frames, times, from, to),
    verticalOscillationM: movement?.verticalM ?? null,
    lateralSwayM: movement?.lateralM ?? null,
    pelvisPeakVerticalAccelerationG: finite(pelvisPeak / STANDARD_GRAVITY_MPS2),
    sternumPeakVerticalAccelerationG: finite(sternumPeak / STANDARD_GRAVITY_MPS2),
    peakAttenuationDb: attenuationDb(pelvisPeak, sternumPeak),
    peakTransverseRateDegPerS: finite(Math.max(Math.abs(yaw.min), Math.abs(yaw.max))),
    // With the body mass, which only the recording knows: sine-wave.ts.
    peakForceN: null,
    verticalStiffnessNPerM: null,
  };
}

/** 20 lg(a / b), dB: the level of an amplitude ratio (IEC 60027-3, from memory). Null unless both are above zero. */
export function attenuationDb(pelvisPeak: number, sternumPeak: number): number | null {
  return pelvisPeak > 0 && sternumPeak > 0 ? 20 * Math.log10(pelvisPeak / sternumPeak) : null;
}

/**
 * Mean separation of the stance less that of its stride, with the free side of the chest ahead as positive. Against the
 * stride, so that where the two headings have their zero does not matter.
 */
function chestLead(frames: StanceFrames, times: StanceTimes, from: number, to: number): number | null {
  const { initialContactS, nextSameContactS } = times;
  if (nextSameContactS === null || hasBreak(frames.headingBreaks, initialContactS, nextSameContactS)) return null;
  const stride = range(frames.turnDeg, from, indexAt(frames, nextSameContactS), 1);
  return finite(signOf(times.side) * (range(frames.turnDeg, from, to, 1).mean - stride.mean));
}

function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}

interface Range {
  min: number;
  max: number;
  mean: number;
  first: number;
}

/** Of `sign` times the column; all NaN as soon as one frame is not known: half a stance is not a stance. */
function range(column: readonly number[], from: number, to: number, sign: number): Range {
  let min = Infinity;
  let max = -Infinity;
  let sum = 0;
  for (let i = from; i < to; i += 1) {
    const value = sign * column[i]!;
    if (Number.isNaN(value)) return UNKNOWN;
    if (value < min) min = value;
    if (value > max) max = value;
    sum += value;
  }
  return to > from ? { min, max, mean: sum / (to - from), first: sign * column[from]! } : UNKNOWN;
}
const UNKNOWN: Range = { min: NaN, max: NaN, mean: NaN, first: NaN };

function rangeOfDifference(a: readonly number[], b: readonly number[], from: number, to: number, sign: number): Range {
  const difference: number[] = [];
  for (let i = from; i < to; i += 1) difference.push(a[i]! - b[i]!);
  return range(difference, 0, difference.length, sign);
}
