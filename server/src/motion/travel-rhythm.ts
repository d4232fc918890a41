/**
 * Evidence for the direction of travel from the rhythm of locomotion: horizontal against vertical acceleration.
 *
 * The line: both fore-aft and vertical acceleration have the rhythm of the steps, while the sideways one has that of the
 * strides and averages out against it. The way along the line: in walking, forward acceleration goes before the
 * vertical push, since it ends as the leading foot brakes; in running, the landing foot brakes while the push builds up, so
 * the sign is the other one (common practice; checked on recordings with known axes, docs/algorithms/mounting.md).
 */
export const RHYTHM = {
  /** Lags at which vertical and horizontal acceleration are compared, s, to either side. */
  lagSMax: 0.24,
  lagStepS: 0.03,
  /** Slow means taken off both, s. */
  meanS: 1,
  /** Vertical acceleration (root mean square over `meanS`) from which on it is locomotion, m/s^2. */
  movingMin: 0.4,
  /** Flight reads as vertical acceleration below this, m/s^2: with more than this share of it, it is running. */
  flightMax: -7,
  flightShareMin: 0.05,
} as const;

interface High {
  up: number;
  a1: number;
  a2: number;
}

export interface RhythmState {
  readonly intervalS: number;
  readonly lagSamples: number;
  readonly lags: number;
  /** What is older counts less and less, s of locomotion. */
  readonly memoryS: number;
  ageS: number;
  meanUp: number;
  mean1: number;
  mean2: number;
  power: number;
  movingS: number;
  flightShare: number;
  /** Recent accelerations without their slow means, newest last. */
  recent: High[];
  /** Sum of vertical times horizontal acceleration at each lag. */
  cross1: number[];
  cross2: number[];
  /** Sum of vertical jerk times horizontal acceleration, and the sums for its correlation. */
  jerk1: number;
  jerk2: number;
  jerkPower: number;
  horizontalPower: number;
}

export function startRhythm(rateHz: number, memoryS: number): RhythmState {
  const lags = Math.round(RHYTHM.lagSMax / RHYTHM.lagStepS);
  return {
    intervalS: 1 / rateHz,
    lagSamples: Math.max(1, Math.round(RHYTHM.lagStepS * rateHz)),
    lags,
    memoryS,
    ageS: 0,
    meanUp: 0,
    mean1: 0,
    mean2: 0,
    power: 0,
    movingS: 0,
    flightShare: 0,
    recent: [],
    cross1: new Array<number>(2 * lags + 1).fill(0),
    cross2: new Array<number>(2 * lags + 1).fill(0),
    jerk1: 0,
    jerk2: 0,
    jerkPower: 0,
    horizontalPower: 0,
  };
}

/** @returns whether the body is in locomotion. Accelerations in m/s^2, vertical without gravity. */
export function stepRhythm(state: RhythmState, vertical: number, a1: number, a2: number, fresh: boolean): boolean {
  const dtS = state.intervalS;
  // At the start the mean of all so far; a short recording has no time to settle.
  const share = dtS / (Math.min(state.ageS, RHYTHM.meanS) + dtS);
  state.ageS += dtS;
  state.meanUp += (vertical - state.meanUp) * share;
  state.mean1 += (a1 - state.mean1) * share;
  state.mean2 += (a2 - state.mean2) * share;
  const high = { up: vertical - state.meanUp, a1: a1 - state.mean1, a2: a2 - state.mean2 };
  state.power += (high.up * high.up - state.power) * share;
  if (fresh) state.recent = [];
  state.recent.push(high);
  const window = 2 * state.lags * state.lagSamples + 1;
  if (state.recent.length > window) state.recent.shift();
  if (state.power <= RHYTHM.movingMin ** 2) return false;
  state.movingS += dtS;
  const flightWeight = dtS / Math.min(state.movingS, state.memoryS);
  state.flightShare += ((vertical < RHYTHM.flightMax ? 1 : 0) - state.flightShare) * flightWeight;
  if (state.recent.length === window) sumUp(state);
  return true;
}

function sumUp(state: RhythmState): void {
  const { recent, lags, lagSamples } = state;
  const middle = recent[lags * lagSamples]!;
  const kept = 1 - state.intervalS / state.memoryS;
  for (let k = 0; k <= 2 * lags; k += 1) {
    const other = recent[k * lagSamples]!;
    state.cross1[k] = state.cross1[k]! * kept + middle.up * other.a1;
    state.cross2[k] = state.cross2[k]! * kept + middle.up * other.a2;
  }
  const jerk = (recent[(lags + 1) * lagSamples]!.up - recent[(lags - 1) * lagSamples]!.up) / (2 * RHYTHM.lagStepS);
  state.jerk1 = state.jerk1 * kept + jerk * middle.a1;
  state.jerk2 = state.jerk2 * kept + jerk * middle.a2;
  state.jerkPower = state.jerkPower * kept + jerk * jerk;
  state.horizontalPower = state.horizontalPower * kept + middle.a1 * middle.a1 + middle.a2 * middle.a2;
}

export interface Rhythm {
  /** Direction of the line in the plane of the two horizontal axes, rad, either way along it. */
  angle: number;
  /** Share of the horizontal acceleration in step with the vertical that lies on the line, 0.5..1. */
  lineShare: number;
  /** -1..1: whether `angle` points forwards. */
  vote: number;
  isRunning: boolean;
}

export function rhythmOf(state: RhythmState): Rhythm {
  let s11 = 0;
  let s12 = 0;
  let s22 = 0;
  for (let k = 0; k < state.cross1.length; k += 1) {
    s11 += state.cross1[k]! ** 2;
    s12 += state.cross1[k]! * state.cross2[k]!;
    s22 += state.cross2[k]! ** 2;
  }
  const angle = 0.5 * Math.atan2(2 * s12, s11 - s22);
  const c = Math.cos(angle);
  const d = Math.sin(angle);
  const along = c * c * s11 + 2 * c * d * s12 + d * d * s22;
  const isRunning = state.flightShare > RHYTHM.flightShareMin;
  const correlation = (state.jerk1 * c + state.jerk2 * d) / Math.sqrt(state.jerkPower * state.horizontalPower + 1e-9);
  return {
    angle,
    lineShare: along / (s11 + s22 + 1e-12),
    vote: Math.max(-1, Math.min(1, 2 * correlation)) * (isRunning ? -1 : 1),
    isRunning,
  };
}
