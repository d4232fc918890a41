/** Says in words how the sensors sit: which way up each is, and whether the two look exchanged. */
import { rotate, conjugate } from './quaternion.ts';
import type { Mounting } from './mounting-lead-in.ts';

export const SEAT = {
  /** In a bow the chest bends further than the pelvis; less than this share of it speaks for exchanged sensors. */
  bowRatioMin: 0.9,
} as const;

const AXES = ['x', 'y', 'z'] as const;

/** The sensor's axis that is nearest to a direction of the segment, with its sign, as in `-z`. */
function nearestAxis(mounting: Mounting, x: number, y: number, z: number): string {
  const direction = rotate(conjugate(mounting.quaternion), x, y, z);
  const size = direction.map(Math.abs);
  const index = size.indexOf(Math.max(...size));
  return `${direction[index]! < 0 ? '-' : '+'}${AXES[index]!}`;
}

/** Which way the sensor is put on: for a person who wants to check it against the picture on its case. */
export function seatInWords(mounting: Mounting): string {
  const up = nearestAxis(mounting, 0, 1, 0);
  const forward = nearestAxis(mounting, 1, 0, 0);
  return `The sensor's ${up} axis points up and its ${forward} axis forwards.`;
}

/**
 * What the two lead-ins say together; empty when nothing is odd or only one is known. Exchanged sensors would exchange
 * pelvis and trunk in every number.
 */
export function exchangeRemark(pelvis: Mounting | null, sternum: Mounting | null): string | null {
  const pelvisDepth = pelvis?.report.details['bowDepthDeg'];
  const sternumDepth = sternum?.report.details['bowDepthDeg'];
  if (pelvisDepth === undefined || sternumDepth === undefined) return null;
  if (sternumDepth >= SEAT.bowRatioMin * pelvisDepth) return null;
  return 'In the bows the pelvis sensor bent further than the sternum sensor: the two may be exchanged. Check them and repeat the lead-in.';
}
