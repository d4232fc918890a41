/**
 * Evidence for the direction of travel from turns: a body that moves forwards with speed v and turns at rate w is pushed to
 * the inner side with w v. Only real turns count; the sway of the steps would only add noise.
 */
export const TURNS = {
  /** Slow means of rate and acceleration, s. */
  meanS: 1,
  /** Slower turning than this is no turn, rad/s. */
  rateMin: 0.35,
  /** A turn counts fully once its rate squared adds up to this, rad^2/s: about a quarter turn at 60 deg/s. */
  powerMin: 1.6,
} as const;

export interface TurnsState {
  readonly intervalS: number;
  slowYaw: number;
  slow1: number;
  slow2: number;
  /** Turning rate times acceleration along the two horizontal axes, and turning rate squared, summed over time. */
  turn1: number;
  turn2: number;
  power: number;
}

export function startTurns(rateHz: number): TurnsState {
  return { intervalS: 1 / rateHz, slowYaw: 0, slow1: 0, slow2: 0, turn1: 0, turn2: 0, power: 0 };
}

/** @param yaw rad/s, + to the left; accelerations m/s^2 */
export function stepTurns(state: TurnsState, yaw: number, a1: number, a2: number): void {
  const dtS = state.intervalS;
  const share = dtS / (TURNS.meanS + dtS);
  state.slowYaw += (yaw - state.slowYaw) * share;
  state.slow1 += (a1 - state.slow1) * share;
  state.slow2 += (a2 - state.slow2) * share;
  if (Math.abs(state.slowYaw) < TURNS.rateMin) return;
  state.turn1 += state.slowYaw * state.slow1 * dtS;
  state.turn2 += state.slowYaw * state.slow2 * dtS;
  state.power += state.slowYaw * state.slowYaw * dtS;
}

/** -1..1: whether the direction (c, d) points forwards, by the speed in m/s that the turns would need along it. */
export function voteOfTurns(state: TurnsState, c: number, d: number): number {
  // Inward is a quarter turn to the left of forwards: the second axis lies to the left of the first, seen from above.
  const speed = (state.turn2 * c - state.turn1 * d) / (state.power + TURNS.powerMin);
  return Math.max(-1, Math.min(1, speed));
}
