/**
 * How a sensor sits on its segment when there was no lead-in: from gravity while upright and from the direction of
 * travel. Weaker than a lead-in, and said so: an athlete's own lean is taken for level.
 *
 * All of it is summed up in the frame that follows the sensor's heading (two horizontal axes square to gravity):
 *  - the line of travel: the horizontal acceleration that goes with the vertical one. Both have the rhythm of the steps,
 *    while the sideways acceleration has that of the strides and averages out against it;
 *  - which way along the line: (a) started from standing, a body moves forwards, so the integral of acceleration points
 *    there, and before stopping it points back; (b) in a turn it is pushed to the inner side; (c) in walking, forward
 *    acceleration leads the vertical push, since it ends as the leading foot brakes; in running, the landing foot brakes
 *    while the push builds up, so the sign is the other one (common practice; checked on recordings of ours).
 */
import { DEG_PER_RAD } from '@ambipede/shared';
import { mountingQuaternion, type Mounting } from './mounting-lead-in.ts';
import { conjugate, cross, dot, rotate, unit, type Vector } from './quaternion.ts';
import type { FusedSample } from './types.ts';

export const FROM_MOVEMENT = {
  /** Lags at which vertical and horizontal acceleration are compared, s, to either side. */
  lagSMax: 0.24,
  lagStepS: 0.03,
  /** Slow means taken off both, s. */
  meanS: 1,
  /** Vertical acceleration (root mean square over `meanS`) from which on it is locomotion, m/s^2. */
  movingMin: 0.4,
  /** Locomotion needed before anything is concluded, s. */
  movingSMin: 0.8,
  /** Live, what is older than this counts less and less, s of locomotion: free movement before the first steps fades. */
  liveMemoryS: 40,
  /** Velocity is read this long after standing ends, and this long before it begins, s. */
  startS: 1.6,
  /** Velocities that starting to walk or run gives, m/s. */
  velocityMin: 0.35,
  velocityMax: 6,
  /** Slower turning than this is no turn but the sway of the steps, rad/s. */
  turnRateMin: 0.35,
  /** And a turn counts fully once its rate squared adds up to this, rad^2/s: about a quarter turn at 60 deg/s. */
  turnPowerMin: 1.6,
  /** Flight reads as vertical acceleration below this, m/s^2: then it is running. */
  flightMax: -7,
  flightShareMin: 0.05,
  /** Default standard uncertainty of the frontal zero, deg: a healthy resting lean of a degree or two is not seen. */
  frontalUncertaintyDeg: 3,
} as const;

export interface MovementState {
  readonly intervalS: number;
  readonly lagSamples: number;
  readonly lags: number;
  readonly memoryS: number;
  /** Sensor axis that the horizontal axes are built on; -1 until the first sample. */
  axis: number;
  upSum: [number, number, number];
  gravitySum: number;
  gravityCount: number;
  ageS: number;
  meanUp: number;
  mean1: number;
  mean2: number;
  power: number;
  movingS: number;
  /** Recent high-passed vertical and horizontal accelerations, newest last. */
  recent: { up: number; a1: number; a2: number }[];
  /** Sum of vertical times horizontal at each lag. */
  cross1: number[];
  cross2: number[];
  /** Sum of vertical jerk times horizontal acceleration, and the sums for its correlation. */
  jerk1: number;
  jerk2: number;
  jerkPower: number;
  horizontalPower: number;
  flightShare: number;
  /** Integral of horizontal acceleration since the last still moment, m/s, and for how long. */
  velocity1: number;
  velocity2: number;
  sinceStillS: number;
  /** Readings of it over the last `startS`, for the way back from a stop. */
  velocities: { v1: number; v2: number }[];
  start1: number;
  start2: number;
  starts: number;
  /** Turning rate times inward acceleration. */
  slowYaw: number;
  slow1: number;
  slow2: number;
  turn1: number;
  turn2: number;
  turnPower: number;
}

/** @param memoryS what is older counts less and less; Infinity where the locomotion is known to be locomotion. */
export function startMovement(rateHz: number, memoryS: number): MovementState {
  const lagSamples = Math.max(1, Math.round(FROM_MOVEMENT.lagStepS * rateHz));
  const lags = Math.round(FROM_MOVEMENT.lagSMax / FROM_MOVEMENT.lagStepS);
  return {
    intervalS: 1 / rateHz,
    lagSamples,
    lags,
    memoryS,
    axis: -1,
    upSum: [0, 0, 0],
    gravitySum: 0,
    gravityCount: 0,
    ageS: 0,
    meanUp: 0,
    mean1: 0,
    mean2: 0,
    power: 0,
    movingS: 0,
    recent: [],
    cross1: new Array<number>(2 * lags + 1).fill(0),
    cross2: new Array<number>(2 * lags + 1).fill(0),
    jerk1: 0,
    jerk2: 0,
    jerkPower: 0,
    horizontalPower: 0,
    flightShare: 0,
    velocity1: 0,
    velocity2: 0,
    sinceStillS: Infinity,
    velocities: [],
    start1: 0,
    start2: 0,
    starts: 0,
    slowYaw: 0,
    slow1: 0,
    slow2: 0,
    turn1: 0,
    turn2: 0,
    turnPower: 0,
  };
}

/** Unit vectors in sensor axes, horizontal and square to each other; up x e1 = e2. */
function horizontalAxes(axis: number, up: Vector): [Vector, Vector] {
  const a = axis === 0 ? 1 : 0;
  const b = axis === 1 ? 1 : 0;
  const c = axis === 2 ? 1 : 0;
  const along = a * up[0] + b * up[1] + c * up[2];
  const e1 = unit([a - along * up[0], b - along * up[1], c - along * up[2]]);
  return [e1, cross(up, e1)];
}

export function stepMovement(state: MovementState, sample: FusedSample): void {
  const up = rotate(conjugate(sample.orientation), 0, 0, 1);
  if (state.axis < 0) {
    const size = up.map(Math.abs);
    state.axis = size.indexOf(Math.min(...size));
  }
  const dtS = state.intervalS;
  const [e1, e2] = horizontalAxes(state.axis, up);
  const force: Vector = [sample.ax, sample.ay, sample.az];
  if (sample.still) {
    state.gravitySum += Math.sqrt(dot(force, force));
    state.gravityCount += 1;
  }
  const gravity = gravityOf(state);
  const a1 = dot(force, e1);
  const a2 = dot(force, e2);
  const vertical = dot(force, up) - gravity;
  const yaw =
    (sample.gx - sample.biasX) * up[0] + (sample.gy - sample.biasY) * up[1] + (sample.gz - sample.biasZ) * up[2];

  // At the start the mean of all so far; a short recording has no time to settle.
  const share = dtS / (Math.min(state.ageS, FROM_MOVEMENT.meanS) + dtS);
  state.ageS += dtS;
  state.meanUp += (vertical - state.meanUp) * share;
  state.mean1 += (a1 - state.mean1) * share;
  state.mean2 += (a2 - state.mean2) * share;
  const high = { up: vertical - state.meanUp, a1: a1 - state.mean1, a2: a2 - state.mean2 };
  state.power += (high.up * high.up - state.power) * share;
  followVelocity(state, sample, a1, a2, dtS);

  const isMoving = state.power > FROM_MOVEMENT.movingMin ** 2;
  if (sample.fresh) state.recent = [];
  state.recent.push(high);
  const window = 2 * state.lags * state.lagSamples + 1;
  if (state.recent.length > window) state.recent.shift();
  if (!isMoving) return;
  state.movingS += dtS;
  const kept = 1 - dtS / state.memoryS;
  state.upSum = [state.upSum[0] * kept + up[0], state.upSum[1] * kept + up[1], state.upSum[2] * kept + up[2]];
  const flightWeight = dtS / Math.min(state.movingS, state.memoryS);
  state.flightShare += ((vertical < FROM_MOVEMENT.flightMax ? 1 : 0) - state.flightShare) * flightWeight;
  sumCrossings(state, window);
  sumTurning(state, yaw, a1, a2, dtS);
}

function gravityOf(state: MovementState): number {
  return state.gravityCount > 0 ? state.gravitySum / state.gravityCount : 9.80665;
}

function sumCrossings(state: MovementState, window: number): void {
  const { recent, lags, lagSamples } = state;
  if (recent.length < window) return;
  const middle = recent[lags * lagSamples]!;
  const kept = 1 - state.intervalS / state.memoryS;
  for (let k = 0; k <= 2 * lags; k += 1) {
    const other = recent[k * lagSamples]!;
    state.cross1[k] = state.cross1[k]! * kept + middle.up * other.a1;
    state.cross2[k] = state.cross2[k]! * kept + middle.up * other.a2;
  }
  const jerk =
    (recent[(lags + 1) * lagSamples]!.up - recent[(lags - 1) * lagSamples]!.up) / (2 * FROM_MOVEMENT.lagStepS);
  state.jerk1 = state.jerk1 * kept + jerk * middle.a1;
  state.jerk2 = state.jerk2 * kept + jerk * middle.a2;
  state.jerkPower = state.jerkPower * kept + jerk * jerk;
  state.horizontalPower = state.horizontalPower * kept + middle.a1 * middle.a1 + middle.a2 * middle.a2;
}

/** Slow turning rate against slow horizontal acceleration: centripetal, rate x speed, to the left when turning left. */
function sumTurning(state: MovementState, yaw: number, a1: number, a2: number, dtS: number): void {
  const share = dtS / (FROM_MOVEMENT.meanS + dtS);
  state.slowYaw += (yaw - state.slowYaw) * share;
  state.slow1 += (a1 - state.slow1) * share;
  state.slow2 += (a2 - state.slow2) * share;
  if (Math.abs(state.slowYaw) < FROM_MOVEMENT.turnRateMin) return;
  state.turn1 += state.slowYaw * state.slow1 * dtS;
  state.turn2 += state.slowYaw * state.slow2 * dtS;
  state.turnPower += state.slowYaw * state.slowYaw * dtS;
}

function followVelocity(state: MovementState, sample: FusedSample, a1: number, a2: number, dtS: number): void {
  const { startS } = FROM_MOVEMENT;
  const readings = Math.round(startS / dtS);
  if (sample.fresh) {
    state.sinceStillS = Infinity;
    state.velocities = [];
  }
  if (sample.still) {
    if (state.sinceStillS > startS && state.velocities.length >= readings) {
      // Coming to rest: what was lost over the last moments before points backwards.
      const before = state.velocities[0]!;
      addStart(state, before.v1 - state.velocity1, before.v2 - state.velocity2);
    }
    state.velocity1 = 0;
    state.velocity2 = 0;
    state.sinceStillS = 0;
    state.velocities = [];
    return;
  }
  const before = state.sinceStillS;
  state.velocity1 += a1 * dtS;
  state.velocity2 += a2 * dtS;
  state.sinceStillS += dtS;
  state.velocities.push({ v1: state.velocity1, v2: state.velocity2 });
  // Stillness is known only after it has lasted: look back over that too.
  if (state.velocities.length > readings + Math.round(1.2 / dtS)) state.velocities.shift();
  if (before < startS && state.sinceStillS >= startS) addStart(state, state.velocity1, state.velocity2);
}

function addStart(state: MovementState, v1: number, v2: number): void {
  const speed = Math.hypot(v1, v2);
  if (speed < FROM_MOVEMENT.velocityMin || speed > FROM_MOVEMENT.velocityMax) return;
  state.start1 += v1;
  state.start2 += v2;
  state.starts += 1;
}

export interface TravelDirection {
  /** Forwards, in sensor axes, square to `up`. */
  forward: Vector;
  up: Vector;
  gravity: number;
  /** Votes for the direction along the line, each -1..1 with its weight; their sum decides. */
  votes: { start: number; turn: number; rhythm: number };
  /** Share of the horizontal acceleration in step with the vertical that lies on the line, 0.5..1. */
  lineShare: number;
  isRunning: boolean;
}

/** Null while there has not been enough locomotion. */
export function travelDirection(state: MovementState): TravelDirection | null {
  if (state.movingS < FROM_MOVEMENT.movingSMin || state.axis < 0) return null;
  const up = unit(state.upSum);
  const [e1, e2] = horizontalAxes(state.axis, up);
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
  const isRunning = state.flightShare > FROM_MOVEMENT.flightShareMin;
  const rhythm =
    ((state.jerk1 * c + state.jerk2 * d) / Math.sqrt(state.jerkPower * state.horizontalPower + 1e-9)) *
    (isRunning ? -1 : 1);
  const startSpeed = Math.hypot(state.start1, state.start2);
  const start = state.starts === 0 ? 0 : (state.start1 * c + state.start2 * d) / Math.max(startSpeed, 1e-9);
  // Inward is 90 degrees to the left of forward: e1 -> e2 is to the left, seen from above.
  const speed = (state.turn2 * c - state.turn1 * d) / (state.turnPower + FROM_MOVEMENT.turnPowerMin);
  const turn = Math.max(-1, Math.min(1, speed));
  const votes = { start: start * Math.min(2, state.starts), turn: turn, rhythm: Math.max(-1, Math.min(1, 2 * rhythm)) };
  const sign = votes.start + votes.turn + votes.rhythm >= 0 ? 1 : -1;
  const forward = unit([
    sign * (c * e1[0] + d * e2[0]),
    sign * (c * e1[1] + d * e2[1]),
    sign * (c * e1[2] + d * e2[2]),
  ]);
  return { forward, up, gravity: gravityOf(state), votes, lineShare: along / (s11 + s22 + 1e-12), isRunning };
}

/** @param up,gravity of a reference stand where there was one: better than the mean of the movement. */
export function mountingFromMovement(
  state: MovementState,
  stand: { up: Vector; gravity: number } | null,
): Mounting | null {
  const travel = travelDirection(state);
  if (travel === null) return null;
  const up = stand?.up ?? travel.up;
  const quaternion = mountingQuaternion(up, unit(cross(travel.forward, up)));
  const certainty = Math.abs(travel.votes.start + travel.votes.turn + travel.votes.rhythm);
  const remarks = [
    stand
      ? 'No forward bows: front and back were told from the direction of travel, which is weaker.'
      : 'No lead-in: the zero is the mean posture of the movement itself, so a lean to one side is not seen in it. Do the reference stand and the bows.',
  ];
  if (certainty < 0.5) remarks.push('Front and back could hardly be told apart: left and right may be swapped.');
  return {
    quaternion,
    gravity: stand?.gravity ?? travel.gravity,
    report: {
      source: stand ? 'reference stand and movement' : 'movement',
      quaternion: [quaternion.w, quaternion.x, quaternion.y, quaternion.z],
      frontalUncertaintyDeg: stand ? 1.5 : FROM_MOVEMENT.frontalUncertaintyDeg,
      remarks,
      details: {
        lineShare: travel.lineShare,
        voteStart: travel.votes.start,
        voteTurn: travel.votes.turn,
        voteRhythm: travel.votes.rhythm,
        movingS: state.movingS,
        headingDeg: Math.atan2(travel.forward[1], travel.forward[0]) * DEG_PER_RAD,
      },
    },
  };
}
