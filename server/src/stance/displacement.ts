/**
 * How far the pelvis moves up and down and sideways within a step, from the acceleration of its sensor.
 *
 * Twice integrated over one stride (contact to the next contact of the same foot) with no net change: in steady movement
 * on level ground a stride ends with the velocity and, up and sideways, the place that it began with, so the means of
 * acceleration and of velocity over the stride are taken off (common practice, from memory). Where the stride is not
 * steady that is untrue, and nothing is measured. Sideways is across the path, which is the pelvis's heading without its turning
 * to and fro, so that a curve is followed, and without its facing beside the path.
 */
import { RAD_PER_DEG } from '@ambipede/shared';
import { hasBreak, indexAt, type StanceFrames } from './stance-frames.ts';

export const STEADY = {
  /** Mean acceleration over a stride, forward or up, m/s^2: above it the athlete speeds up, slows down or is not on level ground. */
  meanMps2Max: 0.5,
  /** Less braking and pushing at step frequency than this, m/s^2, does not show the direction of the path. */
  brakingMps2Min: 0.3,
  /** Fewer frames do not make a stride. */
  framesMin: 8,
} as const;

type Values = ArrayLike<number>;

export interface StepMovement {
  verticalM: number;
  lateralM: number;
}

/** Ranges over the step from `fromS` to `stepEndS`; null when the stride to `strideEndS` is broken, not known or not steady. */
export function stepMovement(
  frames: StanceFrames,
  fromS: number,
  stepEndS: number,
  strideEndS: number,
): StepMovement | null {
  const stride = strideOf(frames, fromS, strideEndS);
  if (stride === null || hasBreak(frames.breaks, fromS, strideEndS)) return null;
  turnIntoPath(stride);
  const { t, up, forward: along, right: across } = stride;
  // Written so that NaN is not steady either.
  const isSteady =
    Math.abs(meanOver(t, up)) <= STEADY.meanMps2Max && Math.abs(meanOver(t, along)) <= STEADY.meanMps2Max;
  if (!isSteady) return null;
  return { verticalM: rangeTo(t, toPosition(t, up), stepEndS), lateralM: rangeTo(t, toPosition(t, across), stepEndS) };
}

type Stride = Record<'t' | 'up' | 'forward' | 'right' | 'headingDeg', Float64Array>;

/**
 * From contact to contact to the moment, and not to the nearest frame: the acceleration is steep there, and a frame more
 * or less would shift its mean. Null when the frames do not reach.
 */
function strideOf(frames: StanceFrames, fromS: number, toS: number): Stride | null {
  const first = indexAt(frames, fromS);
  const end = indexAt(frames, toS);
  if (first < 1 || end >= frames.t.length || end - first < STEADY.framesMin) return null;
  const fromShare = shareBetween(frames.t, first, fromS);
  const toShare = shareBetween(frames.t, end, toS);
  const t = cut(frames.t, first, end, 0, 0);
  t[0] = fromS;
  t[t.length - 1] = toS;
  return {
    t,
    up: cut(frames.pelvisUp, first, end, fromShare, toShare),
    forward: cut(frames.pelvisForward, first, end, fromShare, toShare),
    right: cut(frames.pelvisRight, first, end, fromShare, toShare),
    headingDeg: cut(frames.headingDeg, first, end, fromShare, toShare),
  };
}

/** The values from `first` to before `end`, with one before and one after them that lie at these shares of a frame. */
function cut(column: Values, first: number, end: number, fromShare: number, toShare: number): Float64Array {
  const out = new Float64Array(end - first + 2);
  out[0] = valueBetween(column, first, fromShare);
  for (let i = first; i < end; i += 1) out[i - first + 1] = column[i]!;
  out[out.length - 1] = valueBetween(column, end, toShare);
  return out;
}

function shareBetween(t: Values, after: number, tS: number): number {
  return (tS - t[after - 1]!) / (t[after]! - t[after - 1]!);
}

function valueBetween(column: Values, after: number, share: number): number {
  return column[after - 1]! + share * (column[after]! - column[after - 1]!);
}

/** Turns forward and right, in place, to along and across the path of the stride. */
function turnIntoPath({ t, headingDeg, forward, right }: Stride): void {
  const n = t.length;
  // The heading of the path goes evenly from its first to its last value.
  const slope = (headingDeg[n - 1]! - headingDeg[0]!) / (t[n - 1]! - t[0]!);
  for (let i = 0, from = t[0]!; i < n; i += 1) headingDeg[i] = headingDeg[i]! - slope * (t[i]! - from);
  const path = meanOver(t, headingDeg);
  for (let i = 0; i < n; i += 1) {
    const radians = (headingDeg[i]! - path) * RAD_PER_DEG;
    turnBack(forward, right, i, Math.cos(radians), Math.sin(radians));
  }
  const crooked = crookedness(t, forward, right);
  const c = Math.cos(crooked);
  const s = Math.sin(crooked);
  for (let i = 0; i < n; i += 1) turnBack(forward, right, i, c, s);
}

function turnBack(along: Float64Array, across: Float64Array, i: number, cosine: number, sine: number): void {
  const x = along[i]!;
  const y = across[i]!;
  along[i] = cosine * x + sine * y;
  across[i] = cosine * y - sine * x;
}

/**
 * How far, rad, the pelvis faces beside its path: nobody walks quite where the pelvis points, and the mounting is known
 * to a degree or two. Braking and pushing, once a step, then show sideways in the same phase. A true difference of sway
 * between the feet is largest in mid-stance, where braking turns to pushing: a quarter of a wave away, so it is left alone.
 */
function crookedness(t: Values, along: Values, across: Values): number {
  const n = t.length;
  const cosine = new Float64Array(n);
  const sine = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    const phase = (4 * Math.PI * (t[i]! - t[0]!)) / (t[n - 1]! - t[0]!);
    cosine[i] = Math.cos(phase);
    sine[i] = Math.sin(phase);
  }
  const cosAlong = waveIn(t, along, cosine);
  const sinAlong = waveIn(t, along, sine);
  const power = cosAlong ** 2 + sinAlong ** 2;
  if (!(power > STEADY.brakingMps2Min ** 2)) return 0;
  return Math.atan((waveIn(t, across, cosine) * cosAlong + waveIn(t, across, sine) * sinAlong) / power);
}

/** Twice the mean of the product over time, by the trapezium rule: the part of the values that goes with the wave. */
function waveIn(t: Values, values: Values, wave: Values): number {
  let area = 0;
  for (let i = 1; i < wave.length; i += 1)
    area += ((values[i - 1]! * wave[i - 1]! + values[i]! * wave[i]!) / 2) * (t[i]! - t[i - 1]!);
  return 2 * (area / (t[t.length - 1]! - t[0]!));
}

/** Acceleration in m/s^2 to place in m, in place: both integrals without their mean. */
function toPosition(t: Values, values: Float64Array): Float64Array {
  integrate(t, values);
  integrate(t, values);
  return values;
}

function integrate(t: Values, values: Float64Array): void {
  const mean = meanOver(t, values);
  let before = values[0]!;
  values[0] = 0;
  for (let i = 1; i < values.length; i += 1) {
    const value = values[i]!;
    values[i] = values[i - 1]! + ((before + value) / 2 - mean) * (t[i]! - t[i - 1]!);
    before = value;
  }
}

/** Mean over time, by the trapezium rule. */
function meanOver(t: Values, values: Values): number {
  let area = 0;
  for (let i = 1; i < values.length; i += 1) area += ((values[i - 1]! + values[i]!) / 2) * (t[i]! - t[i - 1]!);
  return area / (t[t.length - 1]! - t[0]!);
}

function rangeTo(t: Values, values: Values, toS: number): number {
  const after = indexAt({ t }, toS);
  let min = valueBetween(values, after, shareBetween(t, after, toS));
  let max = min;
  for (let i = 0; i < after; i += 1) {
    min = Math.min(min, values[i]!);
    max = Math.max(max, values[i]!);
  }
  return max - min;
}
