/** What the athlete does without going anywhere: on one leg, turning, jumping. Begins and ends standing on both feet. */
import type { Course } from './course.ts';
import type { Knot } from './curve.ts';
import { planHalfTurn } from './half-turn.ts';
import { planJump } from './jump.ts';
import type { FootEvent } from './plan.ts';
import type { Channel } from './posture.ts';
import type { AthleteProfile, Posture } from './profile.ts';
import type { Random } from './random.ts';
import type { ScriptStep, Side } from './script.ts';
import { planSingleLeg } from './single-leg.ts';

/** One time on one foot: from the other foot's leaving the ground to its touch. */
export interface Hold {
  startS: number;
  endS: number;
  /** The balance was lost. */
  fell: boolean;
  corrections: { tS: number; towards: Side; sizeDeg: number }[];
}

export interface Turn {
  direction: Side;
  onsetS: number;
  endS: number;
  leads: 'pelvis' | 'chest';
}

export interface Leap {
  takeOffS: number;
  touchS: number;
  feet: Side | 'both';
}

export interface Act {
  mark: string;
  startS: number;
  endS: number;
  endHeadingRad: number;
  courses: Course[];
  knots: Partial<Record<Channel, Knot[]>>;
  events: FootEvent[];
  /** Jolts of touches, in g. */
  jolts: { tS: number; side: Side; sizeG: number }[];
  standing: { side: Side; holds: Hold[] } | null;
  turn: Turn | null;
  leap: Leap | null;
  /** Nothing swings any more from here on. */
  stillFromS: number;
}

export type ActStep = Extract<ScriptStep, { kind: 'single-leg-stand' | 'half-turn' | 'jump' }>;

export interface ActScene {
  profile: AthleteProfile;
  random: Random;
  startS: number;
  headingRad: number;
  /** Posture of a free stand. */
  rest: Posture;
}

export function isActStep(step: ScriptStep): step is ActStep {
  return step.kind === 'single-leg-stand' || step.kind === 'half-turn' || step.kind === 'jump';
}

export function planAct(
  step: ActStep,
  profile: AthleteProfile,
  random: Random,
  startS: number,
  headingRad: number,
): Act {
  const { referencePosture: zero, restingLean: lean } = profile;
  const rest: Posture = {
    pelvicObliquityDeg: zero.pelvicObliquityDeg + lean.pelvicObliquityDeg,
    trunkLateralTiltDeg: zero.trunkLateralTiltDeg + lean.trunkLateralTiltDeg,
    pelvicTiltDeg: zero.pelvicTiltDeg + lean.pelvicTiltDeg,
    trunkForwardTiltDeg: zero.trunkForwardTiltDeg + lean.trunkForwardTiltDeg,
  };
  const scene: ActScene = { profile, random, startS, headingRad, rest };
  if (step.kind === 'single-leg-stand') return planSingleLeg(step, scene);
  return step.kind === 'half-turn' ? planHalfTurn(step, scene) : planJump(step, scene);
}
