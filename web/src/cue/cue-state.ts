/** From an angle to what the bar shows and the sound says. Pure; the angle comes from the server as it is. */
import type { Side } from '@ambipede/shared';

/** Half widths of the dead zone that a coach can choose. Practice, no source: a quiet stand sways by less than the smallest. */
export const DEAD_ZONES_DEG = [1, 2, 3, 5] as const;
export type DeadZoneDeg = (typeof DEAD_ZONES_DEG)[number];

/** So far outside the dead zone the cue is at its loudest, and the bar at its end. */
export const REACH_BEYOND_DEG = 8;

export type CueState =
  /** Within the dead zone, its edges included. */
  | { kind: 'centre'; angleDeg: number }
  /** `side`: the lower side of the pelvis, the side that the trunk leans to. `beyond`: 0 at the edge of the zone, 1 at the reach. */
  | { kind: 'off'; side: Side; angleDeg: number; beyond: number }
  | { kind: 'lost' };

/**
 * `angleDeg`: pelvic obliquity or trunk lateral tilt from the reference, positive with the right side up, so positive is
 * to the left (docs/conventions.md); null or not finite when it is not known. `stale`: whatever the angle, it is old.
 */
export function cueState(angleDeg: number | null, deadZoneDeg: number, stale: boolean): CueState {
  if (stale || angleDeg === null || !Number.isFinite(angleDeg)) return { kind: 'lost' };
  const distanceDeg = Math.abs(angleDeg) - deadZoneDeg;
  if (distanceDeg <= 0) return { kind: 'centre', angleDeg };
  return {
    kind: 'off',
    side: angleDeg > 0 ? 'left' : 'right',
    angleDeg,
    beyond: Math.min(1, distanceDeg / REACH_BEYOND_DEG),
  };
}

/** Where the mark stands on the bar, -1 (left end) to 1 (right end): the dead zone to scale, all further off at the end. */
export function barPosition(angleDeg: number, deadZoneDeg: number): number {
  const end = deadZoneDeg + REACH_BEYOND_DEG;
  const position = Math.max(-1, Math.min(1, -angleDeg / end));
  return position === 0 ? 0 : position;
}
