/**
 * Walking: one step per swing of the body over the foot. Around the initial contact the forward acceleration turns from
 * pushing to braking (Zijlstra & Hof 2003) while the vertical acceleration peaks. Both are put into one signal whose
 * maxima are the steps. A first look puts the contact, and the toe-off of the other foot, a usual share of the step time
 * from the maximum; when the next step has come the shape of the step tells better (walking-template.ts).
 */
import type { ContactEvent } from '../types.ts';
import { at, timeOf, type History } from './history.ts';
import { publish, revise, withdraw, type Ledger } from './ledger.ts';
import { bendAround, readStep } from './walking-template.ts';

export const WALKING = {
  /** m/s^2 of the step signal: less is standing. */
  strengthMin: 0.3,
  /** Strong enough to be shown before the next steps confirm it. */
  strengthSure: 0.9,
  /** Share of the usual strength of the last steps below which a maximum is something else. */
  strengthShareMin: 0.14,
  stepS: { min: 0.26, usual: 0.55, max: 1.5 },
  /** Step times used for shares are kept within these. */
  shareOfS: { min: 0.35, max: 1.2 },
  /** Two maxima closer than this share of the step time belong to one step, and this much stronger replaces. */
  doubleShareMax: 0.52,
  replaceRatio: 1.3,
  /** Steps that make a bout; fewer are withdrawn. */
  boutStepsMin: 3,
  /** Mean strength of the first steps of a bout, m/s^2. */
  boutStrengthMin: 0.5,
  /** Largest ratio of the step times next to each other in the first steps of a bout. */
  ratioMax: 2.3,
  /** Share by which the limp follows each step; largest log of the ratio of two step times that is one. */
  limp: { follow: 0.25, ratioMax: 0.65 },
  /** Steps kept for the usual strength and step time. */
  recentMax: 4,
  /** First look: contact before the maximum; the other foot's toe-off after it, share of the step time plus constant. */
  leadShare: 0.068,
  lagShare: 0.332,
  lagS: -0.088,
  /** The stance of a step that ends in flight lasts at least this long after the maximum. */
  stanceAfterS: 0.15,
  /** The pelvis tilts less than this from `before` to `after` a step; more is bending or getting up, rad. */
  bend: { max: 0.166, beforeS: 0.4, afterS: 0.15 },
} as const;

interface WalkingStep {
  tS: number;
  strength: number;
  contact: ContactEvent | null;
  toeOff: ContactEvent | null;
  /** In step times, from the shape; null before that is known. */
  shape: { lead: number; lag: number; stepS: number } | null;
}

export interface WalkingState {
  /** Newest steps of the bout, oldest first. */
  steps: WalkingStep[];
  confirmed: boolean;
  /** Steps of the bout that are no longer kept. */
  forgotten: number;
  /**
   * Alternation of the step times: log of the time before the newest step looked at over the one after it, followed with
   * the sign changing from step to step. 0 without a limp.
   */
  limp: number;
  /** When the newest step's toe-off can be put out, which lies ahead of its first look; Infinity for none. */
  toeOffDueS: number;
}

/** What the detector is given beside its state. */
export interface WalkingContext {
  history: History;
  rateHz: number;
  /** Light smoothing for reading a step's shape. */
  shapeKernel: Float64Array;
  ledger: Ledger;
}

export function startWalking(): WalkingState {
  return { steps: [], confirmed: false, forgotten: 0, limp: 0, toeOffDueS: Infinity };
}

/** Looks at sample number `n` of the step signal, whose neighbours on both sides are known. */
export function stepWalking(
  state: WalkingState,
  context: WalkingContext,
  n: number,
  isRunningAt: (tS: number) => boolean,
): void {
  const { history, rateHz } = context;
  const tS = timeOf(history, n, rateHz);
  const last = state.steps.at(-1);
  if (last !== undefined && tS - last.tS > WALKING.stepS.max) endBout(state, context);
  if (history.newestS >= state.toeOffDueS) putOut(state, state.steps.length - 1, context);
  const b = at(history.step, n);
  if (b < WALKING.strengthMin) return;
  const a = at(history.step, n - 1);
  const c = at(history.step, n + 1);
  if (!(b > a && b >= c)) return;
  const peak = n + (0.5 * (a - c)) / (a - 2 * b + c);
  const peakS = timeOf(history, peak, rateHz);
  const { beforeS, afterS, max } = WALKING.bend;
  if (bendAround(history, peak, Math.round(beforeS * rateHz), Math.round(afterS * rateHz)) > max) return;
  if (isRunningAt(peakS)) {
    if (state.confirmed) endBout(state, context);
    return;
  }
  acceptPeak(state, context, peakS, b);
}

function acceptPeak(state: WalkingState, context: WalkingContext, tS: number, strength: number): void {
  const { steps } = state;
  const last = steps.at(-1);
  if (last !== undefined) {
    if (strength < WALKING.strengthShareMin * usualStrength(steps)) return;
    const tooClose = Math.max(WALKING.stepS.min, WALKING.doubleShareMax * usualStepTime(steps));
    if (tS - last.tS < tooClose) {
      if (strength < WALKING.replaceRatio * last.strength) return;
      // The first maximum was a lesser one of the same step.
      last.tS = tS;
      last.strength = strength;
      putOut(state, steps.length - 1, context);
      return;
    }
  }
  steps.push({ tS, strength, contact: null, toeOff: null, shape: null });
  if (steps.length > 1) lookAgain(state, steps.length - 2, context);
  const isNewBout = !state.confirmed && isBout(steps);
  if (isNewBout) state.confirmed = true;
  for (let i = isNewBout ? 0 : Math.max(0, steps.length - 2); i < steps.length; i += 1) putOut(state, i, context);
  while (state.confirmed && steps.length > WALKING.recentMax) {
    steps.shift();
    state.forgotten += 1;
  }
  // An unconfirmed bout cannot grow without end.
  if (!state.confirmed && steps.length > WALKING.recentMax) withdrawStep(steps.shift()!, context.ledger);
}

function lookAgain(state: WalkingState, i: number, context: WalkingContext): void {
  const { history, rateHz, shapeKernel } = context;
  const step = state.steps[i]!;
  const stepS = stepTimeAt(state.steps, i);
  state.limp = followLimp(state.limp, state.steps, i);
  const peak = history.count - 1 - (history.newestS - step.tS) * rateHz;
  const shape = readStep(history, peak, { stepS, limp: state.limp, rateHz }, shapeKernel);
  if (shape !== null) step.shape = { ...shape, stepS };
}

/** Slowly, as single step times jitter; from nothing after a step that was missed. */
function followLimp(limp: number, steps: readonly WalkingStep[], i: number): number {
  const before = steps[i - 1];
  const after = steps[i + 1];
  if (before === undefined || after === undefined) return -limp;
  const ratio = Math.log((steps[i]!.tS - before.tS) / (after.tS - steps[i]!.tS));
  return Math.abs(ratio) > WALKING.limp.ratioMax ? 0 : -limp + WALKING.limp.follow * (ratio + limp);
}

/** Publishes or corrects the two events of a step; a toe-off not before its time. */
function putOut(state: WalkingState, i: number, context: WalkingContext): void {
  const { ledger, history } = context;
  const step = state.steps[i]!;
  if (i === state.steps.length - 1) state.toeOffDueS = Infinity;
  if (!state.confirmed && step.strength < WALKING.strengthSure) return;
  const { shape } = step;
  const stepS = shape?.stepS ?? stepTimeAt(state.steps, i);
  const contactS = step.tS - (shape?.lead ?? WALKING.leadShare) * stepS;
  const toeOffS = step.tS + (shape === null ? WALKING.lagShare * stepS + WALKING.lagS : shape.lag * stepS);
  const confidence = state.confirmed ? 0.9 : 0.4;
  if (step.contact === null) step.contact = publish(ledger, 'initial_contact', 'walk', contactS, confidence);
  else revise(ledger, step.contact, contactS, confidence);
  if (step.toeOff !== null) revise(ledger, step.toeOff, toeOffS, confidence);
  else if (toeOffS <= history.newestS) step.toeOff = publish(ledger, 'toe_off', 'walk', toeOffS, confidence);
  else if (i === state.steps.length - 1) state.toeOffDueS = toeOffS;
}

/** Mean of the step times on both sides, as far as they are known: a limp alternates. */
function stepTimeAt(steps: readonly WalkingStep[], i: number): number {
  const before = i > 0 ? steps[i]!.tS - steps[i - 1]!.tS : NaN;
  const after = i + 1 < steps.length ? steps[i + 1]!.tS - steps[i]!.tS : NaN;
  const mean = Number.isNaN(before) ? after : Number.isNaN(after) ? before : (before + after) / 2;
  if (Number.isNaN(mean)) return WALKING.stepS.usual;
  return Math.min(WALKING.shareOfS.max, Math.max(WALKING.shareOfS.min, mean));
}

function usualStepTime(steps: readonly WalkingStep[]): number {
  if (steps.length < 2) return WALKING.stepS.usual;
  return Math.min(WALKING.shareOfS.max, (steps.at(-1)!.tS - steps[0]!.tS) / (steps.length - 1));
}

function usualStrength(steps: readonly WalkingStep[]): number {
  return steps.reduce((sum, step) => sum + step.strength, 0) / steps.length;
}

function isBout(steps: readonly WalkingStep[]): boolean {
  if (steps.length < WALKING.boutStepsMin) return false;
  const tail = steps.slice(-WALKING.boutStepsMin);
  if (usualStrength(tail) < WALKING.boutStrengthMin) return false;
  const times = tail.slice(1).map((step, i) => step.tS - tail[i]!.tS);
  return Math.max(...times) < WALKING.ratioMax * Math.min(...times);
}

/** The bout is over: its last step gets its final look; what never became a bout is withdrawn. */
export function endBout(state: WalkingState, context: WalkingContext): void {
  const last = state.steps.length - 1;
  if (state.confirmed && last > 0) {
    lookAgain(state, last, context);
    putOut(state, last, context);
  }
  if (!state.confirmed) for (const step of state.steps) withdrawStep(step, context.ledger);
  state.steps = [];
  state.confirmed = false;
  state.forgotten = 0;
  state.limp = 0;
  state.toeOffDueS = Infinity;
}

/**
 * Running began at `fromS`: what was taken for walking since then was not. One or two steps before it make no bout: they
 * are the first pushes of a run, and not timed as walking is.
 */
export function giveWayToRunning(state: WalkingState, fromS: number, context: WalkingContext): void {
  while (state.steps.length > 0 && state.steps.at(-1)!.tS > fromS - WALKING.stanceAfterS)
    withdrawStep(state.steps.pop()!, context.ledger);
  if (state.forgotten + state.steps.length < WALKING.boutStepsMin) state.confirmed = false;
  state.toeOffDueS = Infinity;
}

function withdrawStep(step: WalkingStep, ledger: Ledger): void {
  withdraw(ledger, step.contact);
  withdraw(ledger, step.toeOff);
}
