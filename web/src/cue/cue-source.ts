/** Which value the cue follows: standing the newest angle, walking the newest stance as the server tells it. */
import { TASK_INFO, type MountingReport, type Place, type Side, type Stance, type Task } from '@ambipede/shared';

export type CuePart = 'pelvis' | 'trunk';
export const CUE_PARTS: readonly CuePart[] = ['pelvis', 'trunk'];
export const PLACE_OF_PART: Record<CuePart, Place> = { pelvis: 'pelvis', trunk: 'sternum' };

/** A step whose foot left the ground longer ago says nothing about now. Slow walking has one in 0.7 s (practice). */
export const STANCE_CURRENT_WITHIN_MS = 3000;

export interface CueInput {
  part: CuePart;
  /** The feed is not alive. */
  stale: boolean;
  /** How the sensor of that part sits; undefined before the server has said. */
  mounting: MountingReport | undefined;
  /** The sensor of that part streams. */
  streaming: boolean;
  /** Newest current angle of that part; null when there is none. */
  angleDeg: number | null;
  /** null: no trial runs. */
  task: Task | null;
  inLeadIn: boolean;
  stances: readonly Stance[];
  /** Zero of the stances' times. */
  sessionStartUtcMs: number;
  serverNowMs: number;
}

export type CueSource =
  | { kind: 'value'; angleDeg: number; stanceSide: Side | null }
  | { kind: 'lost'; why: 'connection' | 'signal' | 'reference' | 'stance' }
  /** Not asked for now: the coach knows why, and the sound goes off. */
  | { kind: 'paused'; why: 'lead-in' | 'task' };

export function cueSource(input: CueInput): CueSource {
  if (input.stale) return { kind: 'lost', why: 'connection' };
  if (input.inLeadIn) return { kind: 'paused', why: 'lead-in' };
  const drill = drillOf(input.task);
  if (drill === null) return { kind: 'paused', why: 'task' };
  if (!input.streaming) return { kind: 'lost', why: 'signal' };
  // A zero guessed from the athlete's own movement would guide towards the habit.
  if (!hasReference(input.mounting)) return { kind: 'lost', why: 'reference' };
  if (drill === 'walking') return ofStance(input);
  if (input.angleDeg === null) return { kind: 'lost', why: 'signal' };
  return { kind: 'value', angleDeg: input.angleDeg, stanceSide: null };
}

function drillOf(task: Task | null): 'standing' | 'walking' | null {
  if (task === null) return 'standing';
  const { rung } = TASK_INFO[task];
  if (rung === 'stand' || rung === 'single-leg-stand') return 'standing';
  return rung === 'walk' ? 'walking' : null;
}

function hasReference(mounting: MountingReport | undefined): boolean {
  return mounting?.source === 'lead-in' || mounting?.source === 'reference stand and movement';
}

function ofStance({ part, stances, sessionStartUtcMs, serverNowMs }: CueInput): CueSource {
  const newest = stances.findLast(({ side }) => side !== 'unknown');
  if (newest === undefined || newest.side === 'unknown') return { kind: 'lost', why: 'stance' };
  const { side } = newest;
  const ageMs = serverNowMs - (sessionStartUtcMs + newest.toeOff * 1000);
  const towardsStance = part === 'trunk' ? newest.leanToStanceMeanDeg : negated(newest.swingSideDropDeg);
  if (Math.abs(ageMs) > STANCE_CURRENT_WITHIN_MS || towardsStance === null) return { kind: 'lost', why: 'stance' };
  // Towards the standing foot is to the left, so positive, when it is the left one. A swing side that drops is the other side.
  return { kind: 'value', angleDeg: side === 'left' ? towardsStance : -towardsStance, stanceSide: side };
}

function negated(value: number | null): number | null {
  return value === null ? null : -value;
}
