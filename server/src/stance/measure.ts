/**
 * The metrics of one stance (BIOMECHANICS 5). Side-relative: `swing side` is the side whose foot is in the air, so that
 * left and right compare by subtraction.
 */
import type { SideOrUnknown, StanceMetrics } from '@ambipede/shared';
import { indexAt, type StanceFrames } from './stance-frames.ts';

const GRAVITY = 9.80665;

export interface StanceTimes {
  side: SideOrUnknown;
  initialContactS: number;
  toeOffS: number;
  /** Next initial contact of any foot, and of the same foot; null when there is none in the same run of steps. */
  nextContactS: number | null;
  nextSameContactS: number | null;
  gait: 'walk' | 'run';
}

/** Values over the frames within the stance; angles are null without a side or without the sensor. */
export function measureStance(frames: StanceFrames, times: StanceTimes): StanceMetrics {
  const from = indexAt(frames, times.initialContactS);
  const to = indexAt(frames, times.toeOffS + 1e-9);
  const contactTimeS = times.toeOffS - times.initialContactS;
  const strideS = times.nextSameContactS === null ? null : times.nextSameContactS - times.initialContactS;
  // Height of the swing side is + obliquity on the left foot, - obliquity on the right one.
  const sign = times.side === 'left' ? 1 : times.side === 'right' ? -1 : NaN;
  const swing = range(frames.obliquityDeg, from, to, sign);
  const lean = range(frames.trunkTiltDeg, from, to, sign);
  const obliquity = range(frames.obliquityDeg, from, to, 1);
  const trunk = range(frames.trunkTiltDeg, from, to, 1);
  const sideBend = rangeOfDifference(frames.trunkTiltDeg, frames.obliquityDeg, from, to);
  const separation = range(frames.separationDeg, from, to, 1);
  const yaw = range(frames.yawRateDegPerS, from, to, 1);
  return {
    contactTimeS,
    flightTimeS: times.gait === 'run' && times.nextContactS !== null ? times.nextContactS - times.toeOffS : null,
    stepTimeS: times.nextContactS === null ? null : times.nextContactS - times.initialContactS,
    dutyFactor: strideS === null ? null : contactTimeS / strideS,
    swingSideDropDeg: finite(-swing.min),
    swingSideLiftDeg: finite(swing.max),
    obliquityAtContactDeg: finite(swing.first),
    obliquityExcursionDeg: finite(obliquity.max - obliquity.min),
    leanToStanceMeanDeg: finite(lean.mean),
    leanToStancePeakDeg: finite(lean.max),
    trunkLeanExcursionDeg: finite(trunk.max - trunk.min),
    sideBendExcursionDeg: finite(sideBend.max - sideBend.min),
    separationRangeDeg: finite(separation.max - separation.min),
    pelvisPeakVerticalAccelerationG: finite(range(frames.pelvisUp, from, to, 1).max / GRAVITY),
    sternumPeakVerticalAccelerationG: finite(range(frames.sternumUp, from, to, 1).max / GRAVITY),
    peakTransverseRateDegPerS: finite(Math.max(Math.abs(yaw.min), Math.abs(yaw.max))),
  };
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

function rangeOfDifference(a: readonly number[], b: readonly number[], from: number, to: number): Range {
  const difference: number[] = [];
  for (let i = from; i < to; i += 1) difference.push(a[i]! - b[i]!);
  return range(difference, 0, difference.length, 1);
}
