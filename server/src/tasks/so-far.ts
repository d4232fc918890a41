/** What a task that is still under way says so far: the code of the final summary on the frames until now, and the present moment. */
import { TASK_INFO } from '@ambipede/shared';
import type { Contact, MountingReport, Stance, Task, TaskNow, TaskSummary } from '@ambipede/shared';
import { hasBreak, someStanceFrames, type StanceFrames } from '../stance/stance-frames.ts';
import { HALF_TURN, stillRuns } from './half-turn.ts';
import { LANDING } from './landing.ts';
import { singleLegStand } from './single-leg-stand.ts';
import { summariseTasks, zeroOf } from './summary.ts';
import { finite, meanIn, windowOf, type FrameWindow, type Span } from './window.ts';

export const SO_FAR = {
  /** The present lean is the mean over this, s: sway is left out of it (common practice, no source). */
  leanS: 1,
  /**
   * Longer than the flights of running, s (common practice, no source). The steps of a run-up grow, so in its first seconds each
   * new flight may be the longest yet without being the take-off; which one it was is certain only in the end.
   */
  takeOffFlightSMin: 0.25,
  /** Up to this share of frames may be without a trunk and is then left out (common practice, no source). */
  lateShareMax: 0.2,
  /** Without a trunk for so long until now, s, the sternum sensor is away: nothing is left out. */
  awayS: 0.5,
  /** Contacts shown of a run-up: those of its last stances and of the take-off. */
  contactsMax: 14,
} as const;

export interface SoFarInput {
  task: Task;
  /** From the start, or from the oldest frame kept, to the newest frame. */
  span: Span;
  frames: StanceFrames;
  stances: readonly Stance[];
  /** In order of time. */
  contacts: readonly Contact[];
  mounting: { pelvis: MountingReport | null; sternum: MountingReport | null };
}

/** Null for tasks that are told by their stances alone. */
export function taskSoFar(given: SoFarInput): { now: TaskNow; summary: TaskSummary } | null {
  const { rung } = TASK_INFO[given.task];
  if (rung === 'walk' || rung === 'run' || rung === 'strides') return null;
  const isSlow = rung === 'stand' || rung === 'single-leg-stand' || rung === 'half-turn';
  const input = isSlow ? { ...given, frames: withoutLateTrunk(given.frames) } : given;
  const { span } = input;
  const whole = summariseTasks({ ...input, marks: [], spanS: [span.startS, span.endS] });
  // A flight that goes on, and a landing whose peaks are still to come, are not known yet.
  const isOver = (touchS: number): boolean => touchS + LANDING.peakS <= span.endS;
  const summary: TaskSummary = {
    ...whole,
    runUp: whole.runUp.map((runUp) => {
      const isTold =
        (runUp.takeOff?.flightTimeS ?? 0) >= SO_FAR.takeOffFlightSMin && isOver(runUp.landing?.t ?? Infinity);
      return isTold ? runUp : { ...runUp, takeOff: null, landing: null };
    }),
    landing: whole.landing.filter((landing) => isOver(landing.t)),
    // They are about the whole task: "no half-turn was found" is no news before the first one.
    remarks: [],
  };
  return { now: nowOf(rung, input, summary), summary };
}

/**
 * A packet of the sternum that comes late leaves some frames without a trunk for good, live only: they are left out, so that
 * they do not blank a whole minute. With no sternum, or one that is away now, nothing is left out and the trunk unknown.
 */
function withoutLateTrunk(frames: StanceFrames): StanceFrames {
  const { t, trunkTiltDeg: trunk } = frames;
  const late = trunk.reduce((sum, deg) => sum + (Number.isNaN(deg) ? 1 : 0), 0);
  if (late === 0 || late > SO_FAR.lateShareMax * trunk.length) return frames;
  const newest = trunk.findLastIndex((deg) => !Number.isNaN(deg));
  if (t[t.length - 1]! - t[newest]! > SO_FAR.awayS) return frames;
  return someStanceFrames(frames, (i) => !Number.isNaN(trunk[i]));
}

function nowOf(
  rung: 'stand' | 'single-leg-stand' | 'run-up' | 'landing' | 'half-turn',
  input: SoFarInput,
  summary: TaskSummary,
): TaskNow {
  const { frames, span, contacts } = input;
  if (rung === 'run-up') return { kind: 'run-up', contacts: contacts.slice(-SO_FAR.contactsMax) };
  if (rung === 'landing') return { kind: 'landing' };
  if (rung === 'half-turn') return { kind: 'half-turn', ...separationSoFar(frames, windowOf(frames, span)) };
  const held = summary.singleLegStand[0] ?? singleLegStand(frames, span, null, []);
  return { kind: 'standing', leanDeg: leanNow(input), heldS: held.heldS, corrections: held.corrections };
}

/** Of the newest second; null when it is broken or not known, or when there is no zero from outside. */
function leanNow({ frames, span, mounting }: SoFarInput): { pelvis: number | null; trunk: number | null } {
  const last: Span = { startS: Math.max(span.startS, span.endS - SO_FAR.leanS), endS: span.endS };
  const isWhole = !hasBreak(frames.breaks, last.startS, last.endS);
  const lean = (column: readonly number[], zeroDeg: number | null): number | null =>
    zeroDeg === null || !isWhole ? null : finite(meanIn(column, windowOf(frames, last)));
  return {
    pelvis: lean(frames.obliquityDeg, zeroOf(mounting.pelvis)),
    trunk: lean(frames.trunkTiltDeg, zeroOf(mounting.sternum)),
  };
}

type Separation = Omit<Extract<TaskNow, { kind: 'half-turn' }>, 'kind'>;

/** From each still moment to the next one, or to now. */
function separationSoFar(frames: StanceFrames, window: FrameWindow): Separation {
  const still = stillRuns(frames, window);
  let separationDeg: number | null = null;
  let largest: { left: number; right: number } | null = null;
  still.forEach((run, k) => {
    separationDeg = null;
    const until = still[k + 1]?.from ?? window.to;
    const stillEndS = frames.t[run.to - 1]!;
    const zeroFromS = Math.max(frames.t[run.from]!, stillEndS - HALF_TURN.zeroS);
    if (hasBreak(frames.headingBreaks, zeroFromS, frames.t[until - 1]!)) return;
    const zero = meanIn(frames.turnDeg, windowOf(frames, { startS: zeroFromS, endS: stillEndS }));
    for (let i = run.to - 1; i < until; i += 1) {
      separationDeg = finite(frames.turnDeg[i]! - zero);
      if (separationDeg === null) continue;
      largest = {
        left: Math.max(largest?.left ?? 0, separationDeg),
        right: Math.max(largest?.right ?? 0, -separationDeg),
      };
    }
  });
  return { separationDeg, largestSeparationDeg: largest };
}
