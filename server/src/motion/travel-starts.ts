/**
 * Evidence for the direction of travel from starting and stopping: out of standing a body moves forwards, so the integral
 * of its horizontal acceleration points there; what is lost before standing again points there too.
 */
export const STARTS = {
  /** Velocity is read this long after standing ends, and lost over this long before it begins, s. */
  readS: 1.6,
  /** Stillness is known only after it has lasted: the way back from a stop looks over that too, s. */
  stillKnownAfterS: 1.2,
  /** Velocities that starting to walk or run gives, m/s. */
  velocityMin: 0.35,
  velocityMax: 6,
} as const;

export interface StartsState {
  readonly intervalS: number;
  /** Integral of horizontal acceleration since the last still moment, m/s, and for how long. */
  velocity1: number;
  velocity2: number;
  sinceStillS: number;
  /** Readings of it over the last moments, oldest first. */
  readings: { v1: number; v2: number }[];
  sum1: number;
  sum2: number;
  count: number;
}

export function startStarts(rateHz: number): StartsState {
  return {
    intervalS: 1 / rateHz,
    velocity1: 0,
    velocity2: 0,
    sinceStillS: Infinity,
    readings: [],
    sum1: 0,
    sum2: 0,
    count: 0,
  };
}

export function stepStarts(state: StartsState, still: boolean, fresh: boolean, a1: number, a2: number): void {
  const { readS, stillKnownAfterS } = STARTS;
  const dtS = state.intervalS;
  const readingsMin = Math.round(readS / dtS);
  if (fresh) {
    state.sinceStillS = Infinity;
    state.readings = [];
  }
  if (still) {
    const before = state.readings[0];
    if (before && state.sinceStillS > readS && state.readings.length >= readingsMin) {
      addVelocity(state, before.v1 - state.velocity1, before.v2 - state.velocity2);
    }
    state.velocity1 = 0;
    state.velocity2 = 0;
    state.sinceStillS = 0;
    state.readings = [];
    return;
  }
  const before = state.sinceStillS;
  state.velocity1 += a1 * dtS;
  state.velocity2 += a2 * dtS;
  state.sinceStillS += dtS;
  state.readings.push({ v1: state.velocity1, v2: state.velocity2 });
  if (state.readings.length > readingsMin + Math.round(stillKnownAfterS / dtS)) state.readings.shift();
  if (before < readS && state.sinceStillS >= readS) addVelocity(state, state.velocity1, state.velocity2);
}

function addVelocity(state: StartsState, v1: number, v2: number): void {
  const speed = Math.hypot(v1, v2);
  if (speed < STARTS.velocityMin || speed > STARTS.velocityMax) return;
  state.sum1 += v1;
  state.sum2 += v2;
  state.count += 1;
}

/** -2..2: whether the direction (c, d) in the horizontal plane points forwards; 0 without a start or stop. */
export function voteOfStarts(state: StartsState, c: number, d: number): number {
  const length = Math.hypot(state.sum1, state.sum2);
  return length === 0 ? 0 : ((state.sum1 * c + state.sum2 * d) / length) * Math.min(2, state.count);
}
