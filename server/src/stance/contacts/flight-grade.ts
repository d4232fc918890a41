/** Is a dip of the vertical acceleration a flight? By how deep it falls and how hard the push beside it is. */

export const FLIGHTS = {
  freeFall: -9.81,
  /** m/s^2 without gravity: falling freely below the first, supported again above the second. */
  airBelow: -6.9,
  groundAbove: -3,
  /** A toe-off is over when less than this share of the push is left, or after `fallMaxS`. */
  fallenShare: 0.1,
  fallMaxS: 0.06,
  /** A landing has to push this hard (m/s^2) within `landingMaxS` of the end of flight. */
  landingAbove: 3,
  landingMaxS: 0.1,
  flightMinS: 0.008,
  flightMaxS: 1.0,
  /** Longer support than this ends a run of steps; its start is not taken as the initial contact of its toe-off. */
  stanceMaxS: 0.5,
  /** So long after a flight the next one is expected. */
  runningS: 0.7,
  /** Least push for a flight that counts only if running follows it at once; how many of them are kept. */
  weakPushMin: 3,
  weakMax: 3,
} as const;

export type Grade = 'sure' | 'weak' | 'none';
export type Surroundings = 'running' | 'walking' | 'unknown';

/**
 * Least push, and push minus depth, m/s^2. The push is the mean of the highest quarter of the stance. Walking at 2 m/s
 * reaches -9 and +7 for moments, slow running not less than -8 and +8: so what was going on before counts.
 */
const SURE: Record<Surroundings, { push: number; range: number }> = {
  running: { push: 4, range: 13 },
  unknown: { push: 7.6, range: 17 },
  walking: { push: 9.5, range: 19 },
};
const WEAK_RANGE = 12.5;

export function gradeFlight(push: number, lowest: number, around: Surroundings): Grade {
  const sure = SURE[around];
  const range = push - lowest;
  if (push > sure.push && range > sure.range) return 'sure';
  return push > FLIGHTS.weakPushMin && range > WEAK_RANGE ? 'weak' : 'none';
}
