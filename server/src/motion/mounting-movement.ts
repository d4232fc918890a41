/**
 * How a sensor sits on its segment when there was no lead-in: from gravity while upright and from the direction of
 * travel. Weaker than a lead-in, and said so: an athlete's own lean is taken for level.
 *
 * All evidence is summed up in the frame that follows the sensor's heading, two horizontal axes square to gravity:
 * travel-rhythm.ts (the line, and a vote along it), travel-starts.ts and travel-turns.ts (votes along it).
 */
import { mountingQuaternion, type Mounting } from './mounting-lead-in.ts';
import { conjugate, cross, dot, rotate, unit, type Vector } from './quaternion.ts';
import { rhythmOf, startRhythm, stepRhythm, type RhythmState } from './travel-rhythm.ts';
import { startStarts, stepStarts, voteOfStarts, type StartsState } from './travel-starts.ts';
import { startTurns, stepTurns, voteOfTurns, type TurnsState } from './travel-turns.ts';
import type { FusedSample } from './types.ts';

export const FROM_MOVEMENT = {
  /** Locomotion needed before anything is concluded, s. */
  movingSMin: 0.8,
  /** Live, what is older than this counts less and less, s of locomotion: free movement before the first steps fades. */
  liveMemoryS: 40,
  /** Sum of the votes below which front and back are said to be unsure. */
  certaintyMin: 0.5,
  /** Default standard uncertainties of the frontal zero, deg: a healthy resting lean of a degree or two is not seen. */
  frontalUncertaintyDeg: 3,
  frontalUncertaintyWithStandDeg: 1.5,
} as const;

export interface MovementState {
  /** Sensor axis that the horizontal axes are built on; -1 until the first sample. */
  axis: number;
  /** Sum of the vertical in sensor axes over the locomotion. */
  upSum: [number, number, number];
  gravitySum: number;
  gravityCount: number;
  rhythm: RhythmState;
  starts: StartsState;
  turns: TurnsState;
}

/** @param memoryS what is older counts less and less; Infinity where the locomotion is known to be locomotion. */
export function startMovement(rateHz: number, memoryS: number): MovementState {
  return {
    axis: -1,
    upSum: [0, 0, 0],
    gravitySum: 0,
    gravityCount: 0,
    rhythm: startRhythm(rateHz, memoryS),
    starts: startStarts(rateHz),
    turns: startTurns(rateHz),
  };
}

/** Unit vectors in sensor axes, horizontal and square to each other; up x e1 = e2. */
function horizontalAxes(axis: number, up: Vector): [Vector, Vector] {
  const a: Vector = [axis === 0 ? 1 : 0, axis === 1 ? 1 : 0, axis === 2 ? 1 : 0];
  const along = dot(a, up);
  const e1 = unit([a[0] - along * up[0], a[1] - along * up[1], a[2] - along * up[2]]);
  return [e1, cross(up, e1)];
}

export function stepMovement(state: MovementState, sample: FusedSample): void {
  const up = rotate(conjugate(sample.orientation), 0, 0, 1);
  if (state.axis < 0) {
    const size = up.map(Math.abs);
    state.axis = size.indexOf(Math.min(...size));
  }
  const [e1, e2] = horizontalAxes(state.axis, up);
  const force: Vector = [sample.ax, sample.ay, sample.az];
  if (sample.still) {
    state.gravitySum += Math.sqrt(dot(force, force));
    state.gravityCount += 1;
  }
  const a1 = dot(force, e1);
  const a2 = dot(force, e2);
  stepStarts(state.starts, sample.still, sample.fresh, a1, a2);
  const { rhythm } = state;
  if (!stepRhythm(rhythm, dot(force, up) - gravityOf(state), a1, a2, sample.fresh)) return;
  const kept = 1 - rhythm.intervalS / rhythm.memoryS;
  state.upSum = [state.upSum[0] * kept + up[0], state.upSum[1] * kept + up[1], state.upSum[2] * kept + up[2]];
  const rate: Vector = [sample.gx - sample.biasX, sample.gy - sample.biasY, sample.gz - sample.biasZ];
  stepTurns(state.turns, dot(rate, up), a1, a2);
}

function gravityOf(state: MovementState): number {
  return state.gravityCount > 0 ? state.gravitySum / state.gravityCount : 9.80665;
}

export interface TravelDirection {
  /** Forwards, in sensor axes, square to `up`. */
  forward: Vector;
  up: Vector;
  gravity: number;
  votes: { start: number; turn: number; rhythm: number };
  lineShare: number;
  isRunning: boolean;
}

/** Null while there has not been enough locomotion. */
export function travelDirection(state: MovementState): TravelDirection | null {
  if (state.rhythm.movingS < FROM_MOVEMENT.movingSMin || state.axis < 0) return null;
  const up = unit(state.upSum);
  const [e1, e2] = horizontalAxes(state.axis, up);
  const { angle, lineShare, vote, isRunning } = rhythmOf(state.rhythm);
  const c = Math.cos(angle);
  const d = Math.sin(angle);
  const votes = { start: voteOfStarts(state.starts, c, d), turn: voteOfTurns(state.turns, c, d), rhythm: vote };
  const sign = votes.start + votes.turn + votes.rhythm >= 0 ? 1 : -1;
  const along = (k: 0 | 1 | 2): number => sign * (c * e1[k] + d * e2[k]);
  return { forward: unit([along(0), along(1), along(2)]), up, gravity: gravityOf(state), votes, lineShare, isRunning };
}

/** @param stand up and gravity of a reference stand where there was one: better than the mean of the movement. */
export function mountingFromMovement(
  state: MovementState,
  stand: { up: Vector; gravity: number } | null,
): Mounting | null {
  const travel = travelDirection(state);
  if (travel === null) return null;
  const up = stand?.up ?? travel.up;
  const quaternion = mountingQuaternion(up, unit(cross(travel.forward, up)));
  const { start, turn, rhythm } = travel.votes;
  const remarks = [
    stand
      ? 'No forward bows: front and back were told from the direction of travel, which is weaker.'
      : 'No lead-in: the zero is the mean posture of the movement itself, so a lean to one side is not seen in it. Do the reference stand and the bows.',
  ];
  if (Math.abs(start + turn + rhythm) < FROM_MOVEMENT.certaintyMin) {
    remarks.push('Front and back could hardly be told apart: left and right may be swapped.');
  }
  return {
    quaternion,
    gravity: stand?.gravity ?? travel.gravity,
    report: {
      source: stand ? 'reference stand and movement' : 'movement',
      quaternion: [quaternion.w, quaternion.x, quaternion.y, quaternion.z],
      frontalUncertaintyDeg: stand ? FROM_MOVEMENT.frontalUncertaintyWithStandDeg : FROM_MOVEMENT.frontalUncertaintyDeg,
      remarks,
      details: {
        lineShare: travel.lineShare,
        voteStart: start,
        voteTurn: turn,
        voteRhythm: rhythm,
        movingS: state.rhythm.movingS,
      },
    },
  };
}
