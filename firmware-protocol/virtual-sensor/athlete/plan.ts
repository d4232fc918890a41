/**
 * Which foot is on the ground when, and how fast the body is to move between contacts. The forces that do it are found
 * from this in `ground-force.ts`. A bout starts and ends standing still on both feet.
 */
import type { AthleteProfile, GaitStyle } from './profile.ts';
import { CorrelatedNoise, Random } from './random.ts';
import type { CurveOptions, ScriptStep, Side } from './script.ts';
import { stridesTargets } from './strides.ts';

export const GRAVITY_MPS2 = 9.81;
/** Standing on both feet to the first foot leaving the ground, and from the last contact to still. */
const WEIGHT_SHIFT_S = 0.5;
const FIRST_SWING_S = 0.38;
const SETTLE_S = 0.9;
/** M: take-off contacts of a running jump last 0.12-0.2 s; legs are more bent in landing than in taking off. */
const TAKE_OFF_CONTACT_S = 0.17;
const TAKE_OFF_ABOVE_LANDING_M = 0.1;
/** M: in running the body leaves the ground a centimetre or two higher than it lands. */
const EXTENSION_MAX_M = 0.02;

export interface PlannedContact {
  side: Side;
  icS: number;
  toS: number;
  /** The first contact of a bout was already down; the last two stay down. Only true ends are foot events. */
  startsStanding: boolean;
  endsStanding: boolean;
  gait: 'walk' | 'run';
  /** 0 = standing, 1 = the bout's full speed: scales amplitudes. */
  vigour: number;
  kind: 'step' | 'take-off' | 'landing';
  bothFeet: boolean;
  steady: boolean;
  /** Means over the contact; centripetal is positive to the left. */
  speedMps: number;
  accelerationMps2: number;
  centripetalMps2: number;
  stepTimeS: number;
  extraLeanDeg: number;
}

/** State of the centre of mass that the forces between two nodes must bring about. */
export interface Node {
  tS: number;
  /** Against upright standing. */
  heightM: number;
  riseMps: number;
  forwardMps: number;
  /** Positive to the right of the heading. */
  sidewaysMps: number;
  headingRad: number;
}

export interface FootEvent {
  tS: number;
  side: Side;
  type: 'initial_contact' | 'toe_off';
}

export interface Bout {
  task: 'walk' | 'run' | 'run-up' | 'strides';
  startS: number;
  endS: number;
  contacts: PlannedContact[];
  /** One more than contacts; contact k works mainly between nodes k and k + 1. */
  nodes: Node[];
  events: FootEvent[];
  takeOff: { tS: number; side: Side; flightS: number; landing: Side | 'both' } | null;
}

export interface StepTarget {
  vigour: number;
  speedMps: number;
  stepTimeS: number;
  /** Negative: double support. */
  flightS: number;
  kind: PlannedContact['kind'];
  steady: boolean;
}

export type GaitStep = Extract<ScriptStep, { kind: 'walk' | 'run' | 'run-up' | 'strides' }>;

export function planBout(
  step: GaitStep,
  profile: AthleteProfile,
  random: Random,
  startS: number,
  headingRad: number,
): Bout {
  const targets = targetsOf(step, profile);
  const gait = step.kind === 'walk' ? 'walk' : 'run';
  const style = profile[gait];
  const contacts = layContacts(step, targets, profile, style, random, startS);
  const nodes = layNodes(step, contacts, targets, profile, style, random, headingRad);
  for (let k = 0; k < contacts.length; k++) {
    const contact = contacts[k]!;
    const from = nodes[k]!;
    const to = nodes[k + 1]!;
    contact.speedMps = (from.forwardMps + to.forwardMps) / 2;
    contact.accelerationMps2 = (to.forwardMps - from.forwardMps) / (to.tS - from.tS);
    contact.centripetalMps2 = (from.forwardMps * (to.headingRad - from.headingRad)) / (to.tS - from.tS);
  }
  const leap = step.kind === 'run-up' ? step.takeOff : undefined;
  const takeOffContact = contacts.find((c) => c.kind === 'take-off');
  return {
    task: step.kind,
    startS,
    endS: nodes.at(-1)!.tS,
    contacts,
    nodes,
    events: footEvents(contacts),
    takeOff:
      leap !== undefined && takeOffContact !== undefined
        ? { tS: takeOffContact.toS, side: takeOffContact.side, flightS: leap.flightS, landing: leap.landing }
        : null,
  };
}

function targetsOf(step: GaitStep, profile: AthleteProfile): StepTarget[] {
  if (step.kind === 'strides') {
    // To a stop as after any run of that speed.
    const slowing = RUN_FALL.map((share): StepTarget => {
      const speedMps = share * step.speedMps;
      const usual = { kind: 'run', seconds: 0, cadencePerMin: 175, speedMps: step.speedMps } as const;
      return { vigour: share, speedMps, kind: 'step', steady: false, ...timing(usual, profile, share, speedMps) };
    });
    return [...stridesTargets(step), ...slowing];
  }
  return step.kind === 'run-up' ? runUpTargets(step, profile) : steadyTargets(step, profile, step.kind);
}

/** Walking 1.3 m/s at 110/min, step length shrinking with cadence (M). */
function usualWalkingSpeed(cadencePerMin: number, heightM: number): number {
  return (cadencePerMin / 110) ** 1.6 * 1.3 * (heightM / 1.75);
}

const WALK_RISE = [0.5, 0.85, 1];
const WALK_FALL = [0.8, 0.45, 0.15];
const RUN_RISE = [0.3, 0.5, 0.67, 0.8, 0.9, 0.97];
const RUN_FALL = [0.9, 0.76, 0.6, 0.45, 0.3, 0.17, 0.07];

function steadyTargets(
  step: Extract<ScriptStep, { kind: 'walk' | 'run' }>,
  profile: AthleteProfile,
  gait: 'walk' | 'run',
): StepTarget[] {
  const rise = gait === 'walk' ? WALK_RISE : RUN_RISE;
  const fall = gait === 'walk' ? WALK_FALL : RUN_FALL;
  const steps = Math.round((step.seconds * step.cadencePerMin) / 60);
  const steadyCount = Math.max(2, steps - rise.length - fall.length - 2);
  const shares = [...rise, ...new Array<number>(steadyCount).fill(1), ...fall];
  const speed = step.speedMps ?? usualWalkingSpeed(step.cadencePerMin, profile.heightM);
  return shares.map((share, k) => ({
    vigour: share,
    speedMps: share * speed,
    kind: 'step',
    // The step before the first slower one already brakes.
    steady: k >= rise.length && k < rise.length + steadyCount - 1,
    ...timing(step, profile, share, share * speed),
  }));
}

function timing(
  step: Exclude<GaitStep, { kind: 'strides' }>,
  profile: AthleteProfile,
  share: number,
  speedMps: number,
): { stepTimeS: number; flightS: number } {
  if (step.kind === 'walk') {
    const full = 60 / step.cadencePerMin;
    const duty = profile.walkDutyFactor + Math.max(0, 0.055 * (full - 0.55));
    const stepTimeS = full * (1 + 0.15 * (1 - share));
    return { stepTimeS, flightS: -(2 * duty - 1) * full * (1 + 0.6 * (1 - share)) };
  }
  const full = 60 / (step.cadencePerMin ?? 185);
  const stepTimeS = full * (1 + 0.18 * (1 - share));
  const topSpeed = step.kind === 'run' ? step.speedMps : step.topSpeedMps;
  const own = step.kind === 'run' ? step.contactTimeS : undefined;
  const contact = own ?? runContactTime(profile, topSpeed);
  const flight = Math.max(profile.runFlightMinS, full - contact);
  // Slow steps at either end of the bout have no flight yet, and below a walking pace the feet overlap.
  const run = smoothStep((share - 0.25) / 0.6);
  const overlap = 0.12 * smoothStep((0.5 - share) / 0.4) * (speedMps < 2.2 ? 1 : 0);
  return { stepTimeS, flightS: flight * run - overlap };
}

/** M: contact time falls roughly with speed to the power of 0.6 in the range 2.5-7 m/s. */
function runContactTime(profile: AthleteProfile, speedMps: number): number {
  return Math.min(0.35, Math.max(0.11, profile.runContactTimeS * (Math.max(1, speedMps) / 3.3) ** -0.6));
}

function runUpTargets(step: Extract<ScriptStep, { kind: 'run-up' }>, profile: AthleteProfile): StepTarget[] {
  const targets: StepTarget[] = [];
  for (let k = 1; k <= step.steps; k++) {
    // Speed rises like the classic exponential of a sprint start (M).
    const share = (1 - Math.exp((-3 * (k + 0.5)) / step.steps)) / (1 - Math.exp(-3));
    const speedMps = Math.min(1, share) * step.topSpeedMps;
    const target: StepTarget = {
      vigour: Math.min(1, share),
      speedMps,
      kind: 'step',
      steady: false,
      ...timing(step, profile, Math.min(1, Math.max(0.45, share)), speedMps),
    };
    targets.push(target);
  }
  const fallFrom = (top: number, shares: readonly number[], bounce: number) => {
    for (const share of shares) {
      const speedMps = share * top;
      const vigour = Math.min(1, speedMps / step.topSpeedMps);
      targets.push({
        vigour,
        speedMps,
        kind: 'step',
        steady: false,
        ...timing(step, profile, bounce * vigour, speedMps),
      });
    }
  };
  const leap = step.takeOff;
  if (leap === undefined) {
    fallFrom(step.topSpeedMps, RUN_FALL, 1);
    return targets;
  }
  const last = targets.at(-1)!;
  const contactS = TAKE_OFF_CONTACT_S;
  Object.assign(last, { kind: 'take-off', flightS: leap.flightS, stepTimeS: contactS + leap.flightS });
  targets.push({
    vigour: 0.7,
    // M: a take-off costs a tenth of the speed or so.
    speedMps: 0.9 * step.topSpeedMps,
    kind: 'landing',
    steady: false,
    stepTimeS: 0.42,
    flightS: -0.04,
  });
  fallFrom(step.topSpeedMps, [0.7, 0.54, 0.41, 0.3, 0.2, 0.12, 0.06], 0.75);
  return targets;
}

function layContacts(
  step: GaitStep,
  targets: readonly StepTarget[],
  profile: AthleteProfile,
  style: GaitStyle,
  random: Random,
  startS: number,
): PlannedContact[] {
  const gait = step.kind === 'walk' ? 'walk' : 'run';
  const noise = {
    left: [new CorrelatedNoise(random, profile.stepCorrelation), new CorrelatedNoise(random, profile.stepCorrelation)],
    right: [new CorrelatedNoise(random, profile.stepCorrelation), new CorrelatedNoise(random, profile.stepCorrelation)],
  };
  const sides = chooseSides(step, targets, random);
  const swing = step.kind === 'walk' ? FIRST_SWING_S * (60 / step.cadencePerMin / 0.55) ** 0.5 : FIRST_SWING_S * 0.7;
  const blank = {
    startsStanding: false,
    endsStanding: false,
    gait,
    bothFeet: false,
    speedMps: 0,
    accelerationMps2: 0,
  } as const;
  const contacts: PlannedContact[] = [
    {
      ...blank,
      side: otherSide(sides[0]!),
      icS: startS,
      toS: startS + WEIGHT_SHIFT_S + swing - targets[0]!.flightS * (step.kind === 'walk' ? 1 : 0),
      startsStanding: true,
      vigour: 0.4,
      kind: 'step',
      steady: false,
      centripetalMps2: 0,
      stepTimeS: WEIGHT_SHIFT_S + swing,
      extraLeanDeg: 0,
    },
  ];
  let icS = startS + WEIGHT_SHIFT_S + swing;
  if (step.kind !== 'walk') contacts[0]!.toS = icS - 0.01;
  for (let k = 0; k < targets.length; k++) {
    const target = targets[k]!;
    const side = sides[k]!;
    let stepTimeS = target.stepTimeS * style.stepTimeRatio[side] * (1 + style.stepTimeCv * noise[side][0]!.next());
    const limp = step.kind === 'walk' ? step.limp : undefined;
    if (limp !== undefined) stepTimeS *= side === limp.side ? limp.stepTimeShare : 2 - limp.stepTimeShare;
    const contactS =
      (stepTimeS - target.flightS) * style.contactTimeRatio[side] * (1 + style.contactTimeCv * noise[side][1]!.next());
    let flightS = stepTimeS - contactS;
    if (target.flightS >= 0) flightS = Math.max(flightS, Math.min(0.02, target.flightS));
    else flightS = Math.min(flightS, -0.03);
    if (target.kind === 'take-off') flightS = target.flightS;
    contacts.push({
      ...blank,
      side,
      icS,
      toS: icS + stepTimeS - flightS,
      vigour: target.vigour,
      kind: target.kind,
      bothFeet: target.kind === 'landing' && step.kind === 'run-up' && step.takeOff?.landing === 'both',
      steady: target.steady,
      centripetalMps2: 0,
      stepTimeS,
      extraLeanDeg: limp !== undefined && side === limp.side ? limp.extraLeanDeg * target.vigour : 0,
    });
    icS += stepTimeS;
  }
  const endS = contacts.at(-1)!.icS + SETTLE_S;
  for (const contact of contacts.slice(-2)) {
    contact.toS = endS;
    contact.endsStanding = true;
    contact.steady = false;
  }
  return contacts;
}

/** Feet alternate; the parity is chosen so that the take-off is from the foot asked for. A landing may repeat it. */
function chooseSides(step: GaitStep, targets: readonly StepTarget[], random: Random): Side[] {
  const leap = step.kind === 'run-up' ? step.takeOff : undefined;
  const anchor = targets.findIndex((t) => t.kind === 'take-off');
  const first: Side = random.uniform() < 0.5 ? 'left' : 'right';
  const base = leap === undefined || anchor < 0 ? first : anchor % 2 === 0 ? leap.side : otherSide(leap.side);
  const sides = targets.map((_, k): Side => (k % 2 === 0 ? base : otherSide(base)));
  if (leap !== undefined && leap.landing !== 'both' && sides[anchor + 1] !== leap.landing) {
    for (let k = anchor + 1; k < sides.length; k++) sides[k] = otherSide(sides[k]!);
  }
  return sides;
}

function layNodes(
  step: GaitStep,
  contacts: readonly PlannedContact[],
  targets: readonly StepTarget[],
  profile: AthleteProfile,
  style: GaitStyle,
  random: Random,
  headingRad: number,
): Node[] {
  const height = new CorrelatedNoise(random, profile.stepCorrelation);
  const speed = new CorrelatedNoise(random, 0.8);
  const still = { heightM: 0, riseMps: 0, forwardMps: 0, sidewaysMps: 0 };
  const nodes: Node[] = [{ ...still, tS: contacts[0]!.icS, headingRad }];
  const boutStartS = contacts[0]!.icS;
  const lowM = (step.kind === 'walk' ? 0.017 : 0.035) * profile.heightM;
  let heading = headingRad;
  for (let k = 1; k < contacts.length; k++) {
    const contact = contacts[k]!;
    const before = contacts[k - 1]!;
    const target = targets[k - 1]!;
    const lastFoot = k === contacts.length - 1;
    const flightS = contact.icS - before.toS;
    const tS = flightS >= 0 ? contact.icS : lastFoot ? contact.icS + 0.12 : (contact.icS + before.toS) / 2;
    const forwardMps = target.speedMps * (1 + 0.012 * speed.next());
    const curve = step.kind === 'walk' || step.kind === 'run' ? step.curve : undefined;
    if (curve !== undefined) heading += curveTurn(curve, boutStartS, nodes.at(-1)!.tS, tS, forwardMps);
    let heightM = -lowM * (0.4 + 0.6 * target.vigour) + style.heightSdM * height.next();
    let riseMps = 0;
    if (flightS > 0) {
      // The body leaves the ground higher than it lands, so it falls faster than half the flight alone would give.
      const ownRiseM = (GRAVITY_MPS2 * flightS ** 2) / 8;
      riseMps = -(GRAVITY_MPS2 * flightS) / 2 - (style.extensionShare * Math.min(EXTENSION_MAX_M, ownRiseM)) / flightS;
    }
    if (before.kind === 'take-off') {
      // Even force over the take-off contact tells how high the body is when it leaves; ballistic from there.
      const start = nodes.at(-1)!;
      const leaveMps = (GRAVITY_MPS2 * flightS) / 2 - TAKE_OFF_ABOVE_LANDING_M / flightS;
      heightM = start.heightM + ((start.riseMps + leaveMps) / 2) * (before.toS - before.icS) - TAKE_OFF_ABOVE_LANDING_M;
      riseMps = leaveMps - GRAVITY_MPS2 * flightS;
    }
    const towards = contact.side === 'right' ? 1 : -1;
    // Half of what a half-sine of the athlete's sideways force changes the velocity by in one contact.
    const swayMps =
      (style.lateralForceBw[contact.side] * GRAVITY_MPS2 * Math.min(0.5, contact.toS - contact.icS)) / Math.PI;
    nodes.push({
      tS,
      heightM,
      riseMps,
      forwardMps,
      sidewaysMps: towards * swayMps * (lastFoot ? 0.4 : 1),
      headingRad: heading,
    });
  }
  nodes.push({ ...still, tS: contacts.at(-1)!.toS, headingRad: heading });
  return nodes;
}

function curveTurn(curve: CurveOptions, boutStartS: number, fromS: number, toS: number, speedMps: number): number {
  const inS = boutStartS + curve.afterS;
  const overlapS = Math.max(0, Math.min(toS, inS + curve.seconds) - Math.max(fromS, inS));
  const sign = curve.direction === 'left' ? 1 : -1;
  return (sign * speedMps * overlapS) / curve.radiusM;
}

function footEvents(contacts: readonly PlannedContact[]): FootEvent[] {
  const first = contacts[0]!;
  const events: FootEvent[] = [{ tS: first.icS + WEIGHT_SHIFT_S, side: otherSide(first.side), type: 'toe_off' }];
  for (let k = 0; k < contacts.length; k++) {
    const contact = contacts[k]!;
    if (!contact.startsStanding) events.push({ tS: contact.icS, side: contact.side, type: 'initial_contact' });
    if (!contact.endsStanding) events.push({ tS: contact.toS, side: contact.side, type: 'toe_off' });
    if (contact.bothFeet) {
      const side = otherSide(contact.side);
      events.push({ tS: contact.icS + 0.008, side, type: 'initial_contact' });
      events.push({ tS: contact.icS + 0.4 * contact.stepTimeS, side, type: 'toe_off' });
    }
  }
  return events.sort((p, q) => p.tS - q.tS);
}

export function weightShiftEnd(contact: PlannedContact): number {
  return contact.icS + WEIGHT_SHIFT_S;
}

export function otherSide(side: Side): Side {
  return side === 'left' ? 'right' : 'left';
}

export function smoothStep(u: number): number {
  if (u <= 0) return 0;
  if (u >= 1) return 1;
  return u * u * (3 - 2 * u);
}
