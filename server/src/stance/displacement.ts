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
  const { t, up } = stride;
  const { along, across } = inPathFrame(stride);
  // Written so that NaN is not steady either.
  const isSteady =
    Math.abs(meanOver(t, up)) <= STEADY.meanMps2Max && Math.abs(meanOver(t, along)) <= STEADY.meanMps2Max;
  if (!isSteady) return null;
  return { verticalM: rangeTo(t, position(t, up), stepEndS), lateralM: rangeTo(t, position(t, across), stepEndS) };
}

type Stride = Record<'t' | 'up' | 'forward' | 'right' | 'headingDeg', number[]>;

/**
 * From contact to contact to the moment, and not to the nearest frame: the acceleration is steep there, and a frame more
 * or less would shift its mean. Null when the frames do not reach.
 */
function strideOf(frames: StanceFrames, fromS: number, toS: number): Stride | null {
  const first = indexAt(frames, fromS);
  const end = indexAt(frames, toS);
  if (first < 1 || end >= frames.t.length || end - first < STEADY.framesMin) return null;
  const cut = (column: readonly number[]): number[] => [
    valueBetween(frames.t, column, first, fromS),
    ...column.slice(first, end),
    valueBetween(frames.t, column, end, toS),
  ];
  return {
    t: [fromS, ...frames.t.slice(first, end), toS],
    up: cut(frames.pelvisUp),
    forward: cut(frames.pelvisForward),
    right: cut(frames.pelvisRight),
    headingDeg: cut(frames.headingDeg),
  };
}

function valueBetween(t: readonly number[], column: readonly number[], after: number, tS: number): number {
  const share = (tS - t[after - 1]!) / (t[after]! - t[after - 1]!);
  return column[after - 1]! + share * (column[after]! - column[after - 1]!);
}

/** Forward and right against the path of the stride. */
function inPathFrame({ t, headingDeg, forward, right }: Stride): { along: number[]; across: number[] } {
  const end = t.length - 1;
  // The heading of the path goes evenly from its first to its last value.
  const slope = (headingDeg[end]! - headingDeg[0]!) / (t[end]! - t[0]!);
  const turns = headingDeg.map((heading, i) => heading - slope * (t[i]! - t[0]!));
  const path = meanOver(t, turns);
  const radians = turns.map((turn) => (turn - path) * RAD_PER_DEG);
  const facing = {
    along: radians.map((turn, i) => forward[i]! * Math.cos(turn) + right[i]! * Math.sin(turn)),
    across: radians.map((turn, i) => right[i]! * Math.cos(turn) - forward[i]! * Math.sin(turn)),
  };
  const crooked = crookedness(t, facing.along, facing.across);
  const [c, s] = [Math.cos(crooked), Math.sin(crooked)];
  return {
    along: facing.along.map((x, i) => c * x + s * facing.across[i]!),
    across: facing.across.map((y, i) => c * y - s * facing.along[i]!),
  };
}

/**
 * How far, rad, the pelvis faces beside its path: nobody walks quite where the pelvis points, and the mounting is known
 * to a degree or two. Braking and pushing, once a step, then show sideways in the same phase. A true difference of sway
 * between the feet is largest in mid-stance, where braking turns to pushing: a quarter of a wave away, so it is left alone.
 */
function crookedness(t: readonly number[], along: readonly number[], across: readonly number[]): number {
  const phase = t.map((tS) => (4 * Math.PI * (tS - t[0]!)) / (t[t.length - 1]! - t[0]!));
  const wave = (values: readonly number[], part: (angle: number) => number): number =>
    2 *
    meanOver(
      t,
      values.map((value, i) => value * part(phase[i]!)),
    );
  const [cosAlong, sinAlong] = [wave(along, Math.cos), wave(along, Math.sin)];
  const power = cosAlong ** 2 + sinAlong ** 2;
  if (!(power > STEADY.brakingMps2Min ** 2)) return 0;
  return Math.atan((wave(across, Math.cos) * cosAlong + wave(across, Math.sin) * sinAlong) / power);
}

/** m, from m/s^2: both integrals without their mean. */
function position(t: readonly number[], acceleration: readonly number[]): number[] {
  return integral(t, integral(t, acceleration));
}

function integral(t: readonly number[], values: readonly number[]): number[] {
  const mean = meanOver(t, values);
  const out = [0];
  for (let i = 1; i < values.length; i += 1) {
    out.push(out[i - 1]! + ((values[i - 1]! + values[i]!) / 2 - mean) * (t[i]! - t[i - 1]!));
  }
  return out;
}

/** Mean over time, by the trapezium rule. */
function meanOver(t: readonly number[], values: readonly number[]): number {
  let area = 0;
  for (let i = 1; i < values.length; i += 1) area += ((values[i - 1]! + values[i]!) / 2) * (t[i]! - t[i - 1]!);
  return area / (t[t.length - 1]! - t[0]!);
}

function rangeTo(t: readonly number[], values: readonly number[], toS: number): number {
  const after = indexAt({ t }, toS);
  const within = [...values.slice(0, after), valueBetween(t, values, after, toS)];
  return Math.max(...within) - Math.min(...within);
}
