/**
 * What one step says about its side, from the movement of the pelvis around the initial contact. With u the time from
 * the contact in step times:
 * - sway: on the right foot the ground pushes the body to the left, so acceleration to the right is negative in the
 *   stance and positive in the one before. Walking: weight -sin(pi u); running: the two stances without the flights,
 *   where the trunk and legs swing freely. A curve or a leaning sensor takes no part in either;
 * - yaw: the swing side comes forward in the stance: on the right foot the pelvis turns to the left before the contact
 *   and to the right after it (McCamley 2012), weight -sin(pi u);
 * - drop, walking only: the swing side of the pelvis falls while the leg is loaded: on the right foot the left side
 *   goes down. In running the time of the fall differs too much between people.
 * All are positive for a right foot, NaN where they do not apply.
 */
import type { Gait } from '../types.ts';
import { at, oldest, type MotionRing } from './motion-ring.ts';

export const FEATURES = ['sway in walking', 'sway in running', 'yaw', 'drop'] as const;
export type Evidence = readonly [walkingSway: number, runningSway: number, yaw: number, drop: number];

/** Loading and the times around it, in step times from the contact. */
const LOADING = { from: 0, to: 0.35 };
const AROUND = [
  { from: -0.45, to: -0.1 },
  { from: 0.5, to: 0.8 },
];
/** The stance of a running step, and the one before it, in step times from the contact. */
const STANCE = { from: 0, to: 0.6 };
const STANCE_BEFORE = { from: -1, to: -0.4 };
/** Two steps, over which the turns of the pelvis to both sides cancel. */
const WHOLE = { from: -1, to: 1 };
/** With less of the step than this on both sides nothing can be said, in step times. */
const REACH_MIN = 0.15;

/**
 * @param contact sample number of the initial contact
 * @param stepSamples step time in samples
 * @returns null where the sensor tells too little: no gyroscope, or no samples around the contact.
 */
export function evidenceOf(ring: MotionRing, contact: number, stepSamples: number, gait: Gait): Evidence | null {
  const first = oldest(ring);
  const reach = Math.min(stepSamples, contact - first, ring.count - 1 - contact);
  if (reach < REACH_MIN * stepSamples) return null;
  const yaw = oddPart(ring, ring.yaw, contact, stepSamples, reach);
  const isRun = gait === 'run';
  const sway = isRun
    ? difference(ring, ring.right, contact, stepSamples, STANCE_BEFORE, STANCE)
    : oddPart(ring, ring.right, contact, stepSamples, reach);
  if (!Number.isFinite(sway) || !Number.isFinite(yaw)) return null;
  return isRun ? [NaN, sway, yaw, NaN] : [sway, NaN, yaw, dropOf(ring, contact, stepSamples)];
}

/** Mean of the signal times -sin(pi u) over `reach` samples on both sides. */
function oddPart(ring: MotionRing, values: Float64Array, contact: number, stepSamples: number, reach: number): number {
  const centre = Math.round(contact);
  const half = Math.min(Math.floor(reach), centre - oldest(ring), ring.count - 1 - centre);
  let sum = 0;
  for (let k = 1; k <= half; k += 1) {
    sum -= Math.sin((Math.PI * k) / stepSamples) * (at(values, centre + k) - at(values, centre - k));
  }
  return sum / half;
}

/** Mean rate about the vertical over a step time on both sides, rad/s; null where it is not known. */
export function turnRateAround(ring: MotionRing, contact: number, stepSamples: number): number | null {
  const mean = meanOver(ring, ring.yaw, contact, stepSamples, WHOLE);
  return mean === null || Number.isNaN(mean) ? null : mean;
}

interface Span {
  from: number;
  to: number;
}

/** Mean over the first span minus mean over the second, as far as they are there. */
function difference(
  ring: MotionRing,
  values: Float64Array,
  contact: number,
  stepSamples: number,
  a: Span,
  b: Span,
): number {
  return (
    (meanOver(ring, values, contact, stepSamples, a) ?? NaN) - (meanOver(ring, values, contact, stepSamples, b) ?? NaN)
  );
}

function dropOf(ring: MotionRing, contact: number, stepSamples: number): number {
  const loading = meanOver(ring, ring.roll, contact, stepSamples, LOADING);
  const around = AROUND.map((span) => meanOver(ring, ring.roll, contact, stepSamples, span)).filter((m) => m !== null);
  if (loading === null || around.length === 0) return NaN;
  return around.reduce((sum, mean) => sum + mean, 0) / around.length - loading;
}

function meanOver(
  ring: MotionRing,
  values: Float64Array,
  contact: number,
  stepSamples: number,
  span: Span,
): number | null {
  const from = Math.max(oldest(ring), Math.round(contact + span.from * stepSamples));
  const to = Math.min(ring.count - 1, Math.round(contact + span.to * stepSamples));
  if (to < from) return null;
  let sum = 0;
  for (let i = from; i <= to; i += 1) sum += at(values, i);
  return sum / (to - from + 1);
}
