/**
 * The angles of pelvis and thorax over the session, as curves through the poses of every stance. They know nothing of
 * the forces; contacts, sides and vigour tie both together. Degrees and metres; signs as everywhere: right side up,
 * forward and to the left are positive.
 */
import type { Act } from './acts.ts';
import { sampleCurve, type Knot } from './curve.ts';
import { GRAVITY_MPS2, type Bout, type PlannedContact } from './plan.ts';
import type { AthleteProfile, GaitStyle } from './profile.ts';
import { CorrelatedNoise, Random } from './random.ts';
import type { Side } from './script.ts';
import type { StillSpan, Timeline } from './timeline.ts';

const DEG = 180 / Math.PI;

const CHANNELS = [
  'pelvicObliquityDeg',
  'trunkLateralTiltDeg',
  'pelvicTiltDeg',
  'trunkForwardTiltDeg',
  'pelvisTurnDeg',
  'trunkTurnDeg',
  'pathHeadingDeg',
  'pelvisBowDeg',
  'trunkBowDeg',
  'pelvisForwardM',
  'pelvisUpM',
  'pelvisRightM',
] as const;
export type Channel = (typeof CHANNELS)[number];
export type Posture = Record<Channel, Float64Array>;
type Knots = Record<Channel, Knot[]>;

export function drawPosture(
  timeline: Timeline,
  profile: AthleteProfile,
  seed: number,
  dt: number,
  count: number,
): Posture {
  const knots = Object.fromEntries(CHANNELS.map((c) => [c, [] as Knot[]])) as Knots;
  timeline.still.forEach((span, k) => standing(knots, span, profile, new Random(seed, `still ${k}`)));
  timeline.bouts.forEach((bout, k) => moving(knots, bout, profile, new Random(seed, `posture ${k}`)));
  for (const act of timeline.acts) onTheSpot(knots, act, profile);
  return Object.fromEntries(CHANNELS.map((c) => [c, sampleCurve(knots[c], dt, count)])) as Posture;
}

function standing(knots: Knots, span: StillSpan, profile: AthleteProfile, random: Random): void {
  const centre = standingCentre(profile, span.kind === 'reference_stand');
  for (const [channel, [mean, sd]] of centre) {
    // In a bow the pelvis goes back on purpose.
    if (span.bows > 0 && channel === 'pelvisForwardM') continue;
    const noise = new CorrelatedNoise(random, 0.6);
    for (let t = span.startS + 0.25; t < span.endS - 0.2; t += random.between(0.5, 1.1)) {
      knots[channel].push({ tS: t, value: mean + sd * noise.next() });
    }
  }
  if (span.bows > 0) bowing(knots, span, profile, random);
}

/** Mean and sway of each channel in standing. */
function standingCentre(profile: AthleteProfile, againstWall: boolean): [Channel, [number, number]][] {
  const { referencePosture: zero, restingLean: lean } = profile;
  const share = againstWall ? 0 : 1;
  const swayDeg = profile.swayDeg * (againstWall ? 0.5 : 1);
  const swayM = profile.swayM * (againstWall ? 0.3 : 1);
  return Object.entries({
    pelvicObliquityDeg: [zero.pelvicObliquityDeg + share * lean.pelvicObliquityDeg, swayDeg],
    trunkLateralTiltDeg: [zero.trunkLateralTiltDeg + share * lean.trunkLateralTiltDeg, swayDeg],
    pelvicTiltDeg: [zero.pelvicTiltDeg + share * lean.pelvicTiltDeg, swayDeg],
    trunkForwardTiltDeg: [zero.trunkForwardTiltDeg + share * lean.trunkForwardTiltDeg, swayDeg],
    pelvisTurnDeg: [0, 1.5 * swayDeg],
    trunkTurnDeg: [0, 2 * swayDeg],
    pelvisForwardM: [0, swayM],
    pelvisRightM: [0, swayM],
  }) as [Channel, [number, number]][];
}

function bowing(knots: Knots, span: StillSpan, profile: AthleteProfile, random: Random): void {
  const eachS = (span.endS - span.startS) / span.bows;
  for (let k = 0; k < span.bows; k++) {
    const startS = span.startS + k * eachS;
    const depth = 1 + profile.bowDepthCv * random.normal();
    const downS = startS + eachS * random.between(0.4, 0.5);
    const upS = downS + eachS * random.between(0.02, 0.1);
    const size: [Channel, number][] = [
      ['pelvisBowDeg', profile.bowDepthDeg.pelvis * depth * (1 + 0.05 * random.normal())],
      ['trunkBowDeg', profile.bowDepthDeg.trunk * depth * (1 + 0.05 * random.normal())],
      ['pelvisForwardM', -0.002 * profile.bowDepthDeg.pelvis * depth],
    ];
    for (const [channel, value] of size) {
      knots[channel].push({ tS: startS + 0.08 * eachS, value: 0 });
      knots[channel].push({ tS: downS, value }, { tS: upS, value });
      knots[channel].push({ tS: startS + 0.94 * eachS, value: 0 });
    }
  }
}

function moving(knots: Knots, bout: Bout, profile: AthleteProfile, random: Random): void {
  const style = profile[bout.contacts[0]!.gait];
  const make = () => new CorrelatedNoise(random, profile.stepCorrelation);
  const bySide = () => ({ drop: make(), lift: make(), lean: make(), pelvis: make(), trunk: make(), tilt: make() });
  const noise = { left: bySide(), right: bySide() };
  for (const node of bout.nodes) knots.pathHeadingDeg.push({ tS: node.tS, value: node.headingRad * DEG });
  for (const [channel, [mean]] of standingCentre(profile, false)) {
    knots[channel].push({ tS: bout.startS + 0.05, value: mean }, { tS: bout.endS - 0.1, value: mean });
  }
  for (const contact of bout.contacts) {
    if (contact.startsStanding) firstWeightShift(knots, contact, style);
    else if (!contact.endsStanding) stance(knots, contact, style, profile, noise[contact.side], random);
  }
}

function onTheSpot(knots: Knots, act: Act, profile: AthleteProfile): void {
  for (const [channel, [mean]] of standingCentre(profile, false)) {
    knots[channel].push({ tS: act.startS + 0.05, value: mean }, { tS: act.endS - 0.1, value: mean });
  }
  for (const channel of CHANNELS) knots[channel].push(...(act.knots[channel] ?? []));
}

type StanceNoise = Record<'drop' | 'lift' | 'lean' | 'pelvis' | 'trunk' | 'tilt', CorrelatedNoise>;

/** Positive lateral tilt is right side up: that lifts the swing side of a left stance and leans over the left foot. */
function signOf(stanceSide: Side): 1 | -1 {
  return stanceSide === 'left' ? 1 : -1;
}

function firstWeightShift(knots: Knots, contact: PlannedContact, style: GaitStyle): void {
  const sign = signOf(contact.side);
  const tS = contact.icS + 0.55 * (contact.toS - contact.icS);
  knots.pelvicObliquityDeg.push({ tS, value: -sign * 0.4 * style.swingSideDropDeg[contact.side] });
  knots.trunkLateralTiltDeg.push({ tS, value: sign * 0.6 * style.leanToStanceDeg[contact.side] });
}

function stance(
  knots: Knots,
  contact: PlannedContact,
  style: GaitStyle,
  profile: AthleteProfile,
  noise: StanceNoise,
  random: Random,
): void {
  const { side, icS, toS, stepTimeS } = contact;
  const sign = signOf(side);
  const contactS = toS - icS;
  const size = 0.5 + 0.5 * contact.vigour;
  const scatter = style.angleSdDeg;
  const curveDeg = profile.curveLeanShare * Math.atan2(contact.centripetalMps2, GRAVITY_MPS2) * DEG;
  const landing = contact.kind === 'landing' ? (contact.bothFeet ? 0.4 : 1.3) : 1;

  const dropDeg = style.swingSideDropDeg[side] * size * landing + scatter * noise.drop.next();
  const liftDeg = style.swingSideLiftDeg[side] * size + 0.6 * scatter * noise.lift.next();
  const leanDeg = style.leanToStanceDeg[side] * size + contact.extraLeanDeg + scatter * noise.lean.next();
  knots.pelvicObliquityDeg.push(
    { tS: icS + style.dropPhase * contactS, value: curveDeg - sign * dropDeg },
    { tS: icS + style.liftPhase * contactS, value: curveDeg + sign * liftDeg },
  );
  knots.trunkLateralTiltDeg.push({ tS: icS + style.leanPhase * contactS, value: curveDeg + sign * leanDeg });

  const turn = size * (1 + 0.1 * noise.pelvis.next());
  const counterTurn = size * (1 + 0.1 * noise.trunk.next());
  knots.pelvisTurnDeg.push({
    tS: icS + style.pelvisRotationPhase * stepTimeS,
    value: -sign * style.pelvisRotationDeg * turn,
  });
  knots.trunkTurnDeg.push({
    tS: icS + style.trunkRotationPhase * stepTimeS,
    value: sign * style.trunkRotationDeg * counterTurn,
  });

  const accelerationDeg = Math.atan2(contact.accelerationMps2, GRAVITY_MPS2) * DEG * profile.accelerationLeanShare;
  const wobbleDeg = 0.4 * scatter * noise.tilt.next();
  const pelvicTilt = style.pelvicTiltDeg * contact.vigour + 0.4 * accelerationDeg + wobbleDeg;
  const trunkTilt = style.trunkForwardTiltDeg * contact.vigour + accelerationDeg + wobbleDeg;
  wave(knots.pelvicTiltDeg, icS, stepTimeS, style.pelvicPitchPhase, pelvicTilt, style.pelvicPitchDeg * size);
  wave(knots.trunkForwardTiltDeg, icS, stepTimeS, style.trunkPitchPhase, trunkTilt, style.trunkPitchDeg * size);
  wave(knots.pelvisUpM, icS, stepTimeS, 0.35, 0, -style.pelvisBounceM * size);
  wave(knots.pelvisForwardM, icS, stepTimeS, 0.6, 0, 0.5 * style.pelvisBounceM * size);
  const towardsFoot = side === 'right' ? 1 : -1;
  knots.pelvisRightM.push({
    tS: icS + 0.45 * contactS,
    value: towardsFoot * style.pelvisSwayM * size * random.between(0.8, 1.2),
  });
}

/** One crest and one trough per step. */
function wave(knots: Knot[], icS: number, stepTimeS: number, phase: number, mean: number, half: number): void {
  knots.push({ tS: icS + phase * stepTimeS, value: mean + half });
  knots.push({ tS: icS + (phase + 0.5) * stepTimeS, value: mean - half });
}
