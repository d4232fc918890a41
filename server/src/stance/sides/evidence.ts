/**
 * What one step says about its side, from the movement of the pelvis around the initial contact. With u the time from
 * the contact in step times:
 * - sway: on the right foot the ground pushes the body to the left, so acceleration to the right is negative after the
 *   contact and positive before it (weight -sin(pi u): odd, so a curve or a leaning sensor takes no part);
 * - yaw: the swing side comes forward in the stance: on the right foot the pelvis turns to the right (McCamley 2012);
 * - drop: the swing side of the pelvis falls while the leg is loaded: on the right foot the right side comes up.
 * All are positive for a right foot.
 */
import { at, oldest, type MotionRing } from './motion-ring.ts';

export const FEATURES = ['sway', 'yaw', 'drop'] as const;
export type Evidence = readonly [sway: number, yaw: number, drop: number];

/** Loading and the times around it, in step times from the contact. */
const LOADING = { from: 0, to: 0.35 };
const AROUND = [
  { from: -0.45, to: -0.1 },
  { from: 0.5, to: 0.8 },
];
/** With less of the step than this on both sides nothing can be said, in step times. */
const REACH_MIN = 0.15;

/**
 * @param contact sample number of the initial contact
 * @param stepSamples step time in samples
 * @returns null where the sensor tells too little: no gyroscope, or no samples around the contact.
 */
export function evidenceOf(ring: MotionRing, contact: number, stepSamples: number): Evidence | null {
  const first = oldest(ring);
  const reach = Math.min(stepSamples, contact - first, ring.count - 1 - contact);
  if (reach < REACH_MIN * stepSamples) return null;
  const centre = Math.round(contact);
  const half = Math.floor(reach);
  let sway = 0;
  let yaw = 0;
  for (let k = 1; k <= half; k += 1) {
    if (centre - k < first || centre + k >= ring.count) break;
    const weight = Math.sin((Math.PI * k) / stepSamples);
    sway -= weight * (at(ring.right, centre + k) - at(ring.right, centre - k));
    yaw -= weight * (at(ring.yaw, centre + k) - at(ring.yaw, centre - k));
  }
  const drop = dropOf(ring, contact, stepSamples);
  const evidence = [sway / half, yaw / half, drop] as const;
  return evidence.every(Number.isFinite) ? evidence : null;
}

function dropOf(ring: MotionRing, contact: number, stepSamples: number): number {
  const loading = meanRoll(ring, contact, stepSamples, LOADING);
  const around = AROUND.map((span) => meanRoll(ring, contact, stepSamples, span)).filter((mean) => mean !== null);
  if (loading === null || around.length === 0) return 0;
  return around.reduce((sum, mean) => sum + mean, 0) / around.length - loading;
}

function meanRoll(
  ring: MotionRing,
  contact: number,
  stepSamples: number,
  span: { from: number; to: number },
): number | null {
  const from = Math.max(oldest(ring), Math.round(contact + span.from * stepSamples));
  const to = Math.min(ring.count - 1, Math.round(contact + span.to * stepSamples));
  if (to < from) return null;
  let sum = 0;
  for (let i = from; i <= to; i += 1) sum += at(ring.roll, i);
  return sum / (to - from + 1);
}
