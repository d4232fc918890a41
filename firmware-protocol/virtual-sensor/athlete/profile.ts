/**
 * Who the synthetic athlete is. Ranges marked V, C or M as in the list of sources: V published, C computed, M from memory.
 * Nothing here is fitted to a recording. Phases are drawn within wide bounds, so that an analysis which leans on one
 * fixed phase relation is caught out.
 */
import { drawActStyles, evenActStyles, type ActStyles } from './act-style.ts';
import { Random } from './random.ts';

export interface PerSide {
  left: number;
  right: number;
}

/** How the body moves in one gait. Per side: of the stance on that side. Phases of stance: 0 contact, 1 toe-off. */
export interface GaitStyle {
  /** Largest sinking of the swing side below level, and its largest rise above level late in the stance (may be negative). */
  swingSideDropDeg: PerSide;
  swingSideLiftDeg: PerSide;
  dropPhase: number;
  liftPhase: number;
  /** Largest lean of the trunk over the standing foot. */
  leanToStanceDeg: PerSide;
  leanPhase: number;
  /** Pelvis turns with the side of the leading foot forward; the thorax against it. Phases in step times after the contact. */
  pelvisRotationDeg: number;
  pelvisRotationPhase: number;
  trunkRotationDeg: number;
  trunkRotationPhase: number;
  /** Mean forward tilt against the reference stand, and half the range of its wave at step frequency. */
  pelvicTiltDeg: number;
  pelvicPitchDeg: number;
  pelvicPitchPhase: number;
  trunkForwardTiltDeg: number;
  trunkPitchDeg: number;
  trunkPitchPhase: number;
  /** Contact time and the step time that follows, relative to the mean of both sides. */
  contactTimeRatio: PerSide;
  stepTimeRatio: PerSide;
  /** Size of the force waves in body weights. */
  brakingForceBw: number;
  lateralForceBw: PerSide;
  /** Impact peak as a share of the main peak, when it comes and half its width. */
  heelImpact: PerSide;
  heelImpactAtS: number;
  heelImpactHalfWidthS: number;
  /** Jolt of the pelvis at contact, in g. */
  shockG: PerSide;
  /** Rise of the centre of mass from landing to toe-off, as a share of the flight's own rise (limited in `plan.ts`). */
  extensionShare: number;
  /** Pelvis against the centre of mass, half ranges in m. */
  pelvisBounceM: number;
  pelvisSwayM: number;
  /** One standard deviation from step to step. */
  stepTimeCv: number;
  contactTimeCv: number;
  heightSdM: number;
  angleSdDeg: number;
}

export interface Posture {
  pelvicObliquityDeg: number;
  trunkLateralTiltDeg: number;
  pelvicTiltDeg: number;
  trunkForwardTiltDeg: number;
}

export interface AthleteProfile {
  massKg: number;
  heightM: number;
  walk: GaitStyle;
  run: GaitStyle;
  /** Posture against an external plumb line in the reference stand. */
  referencePosture: Posture;
  /** What is added to it when the athlete stands free. */
  restingLean: Posture;
  swayDeg: number;
  swayM: number;
  /** Bows: line of the axis turned from the segment's Z towards X and Y, depths of pelvis and trunk. */
  bowAxisErrorDeg: [number, number];
  bowDepthDeg: { pelvis: number; trunk: number };
  bowDepthCv: number;
  /** Share of the angle of the ground force that the body leans into a curve, and the trunk into acceleration. */
  curveLeanShare: number;
  accelerationLeanShare: number;
  /** Contact time in running at 3.3 m/s; it shrinks with speed. */
  runContactTimeS: number;
  runFlightMinS: number;
  walkDutyFactor: number;
  /** Spine as a damped spring between pelvis and thorax. */
  spineFrequencyHz: number;
  spineDamping: number;
  shockFrequencyHz: number;
  shockDamping: number;
  /** How alike neighbouring steps are. */
  stepCorrelation: number;
  /** On one leg, turning on the spot, jumping. */
  acts: ActStyles;
}

const LEVEL: Posture = { pelvicObliquityDeg: 0, trunkLateralTiltDeg: 0, pelvicTiltDeg: 0, trunkForwardTiltDeg: 0 };

/** A one-sided athlete with known figures: swing side drop 8 deg on the left foot, 4 on the right; lean 5 and 2 deg; on one leg drop 4 and lift 2. */
export function exampleAthlete(seed = 1): AthleteProfile {
  const athlete = randomAthlete(seed);
  for (const gait of [athlete.walk, athlete.run]) {
    gait.swingSideDropDeg = { left: 8, right: 4 };
    gait.swingSideLiftDeg = { left: 2, right: 3 };
    gait.leanToStanceDeg = { left: 5, right: 2 };
    gait.contactTimeRatio = { left: 1, right: 1 };
    gait.stepTimeRatio = { left: 1, right: 1 };
  }
  athlete.restingLean = { ...LEVEL, pelvicObliquityDeg: -1.5, trunkLateralTiltDeg: 1.8 };
  athlete.acts.singleLeg.swingSideHeightDeg = { left: -4, right: 2 };
  athlete.acts.singleLeg.leanToStanceDeg = { left: 5, right: 2 };
  return athlete;
}

/** The same figures on both sides, for measuring false alarms; other traits by `seed`. */
export function symmetricAthlete(seed: number): AthleteProfile {
  const athlete = randomAthlete(seed);
  for (const gait of [athlete.walk, athlete.run]) {
    for (const key of PAIRED) {
      const mean = (gait[key].left + gait[key].right) / 2;
      gait[key] = { left: mean, right: mean };
    }
  }
  athlete.acts = evenActStyles(athlete.acts);
  return athlete;
}

const PAIRED = [
  'swingSideDropDeg',
  'swingSideLiftDeg',
  'leanToStanceDeg',
  'contactTimeRatio',
  'stepTimeRatio',
  'lateralForceBw',
  'heelImpact',
  'shockG',
] as const;

/** An athlete drawn within plausible bounds, usually somewhat one-sided. */
export function randomAthlete(seed: number): AthleteProfile {
  const r = new Random(seed, 'athlete');
  return {
    massKg: r.between(50, 90),
    heightM: r.between(1.58, 1.92),
    walk: randomGait(r, 'walk'),
    run: randomGait(r, 'run'),
    referencePosture: { ...LEVEL },
    // Practice: a resting lean of a few degrees is common in one-sided athletes.
    restingLean: {
      pelvicObliquityDeg: 1.5 * r.normal(),
      trunkLateralTiltDeg: 1.5 * r.normal(),
      pelvicTiltDeg: r.normal(),
      trunkForwardTiltDeg: r.normal(),
    },
    swayDeg: r.between(0.08, 0.3),
    swayM: r.between(0.001, 0.004),
    bowAxisErrorDeg: [2 * r.normal(), 1.2 * r.normal()],
    bowDepthDeg: { pelvis: r.between(20, 40), trunk: r.between(40, 65) },
    bowDepthCv: 0.1,
    curveLeanShare: r.between(0.5, 0.9),
    accelerationLeanShare: r.between(0.6, 1),
    // M: about 270, 245, 225, 205 ms at 10, 12, 14, 16 km/h.
    runContactTimeS: r.between(0.22, 0.27),
    runFlightMinS: 0.03,
    // M: 0.60-0.64 at a usual speed, more when slow.
    walkDutyFactor: r.between(0.595, 0.635),
    // M: the trunk takes out most of what is above about 12 Hz and passes the bounce of the steps.
    spineFrequencyHz: r.between(9, 13),
    spineDamping: r.between(0.4, 0.8),
    shockFrequencyHz: r.between(12, 20),
    shockDamping: r.between(0.2, 0.4),
    stepCorrelation: r.between(0.2, 0.7),
    acts: drawActStyles(seed),
  };
}

function randomGait(r: Random, gait: 'walk' | 'run'): GaitStyle {
  const run = gait === 'run';
  // M: peak-to-peak obliquity 7-10 deg in walking, 10-11 in running (Schache 2002). V: side differences in healthy
  // athletes stay within 3 deg (Stiffler-Joachim 2021); drawn a little wider here.
  const drop = run ? r.between(3, 7.5) : r.between(2.5, 6);
  const lift = run ? r.between(0, 4) : r.between(0, 3);
  const lean = run ? r.between(1, 5) : r.between(0.5, 4);
  return {
    swingSideDropDeg: pair(r, drop, 1.2),
    swingSideLiftDeg: pair(r, lift, 0.8),
    dropPhase: run ? r.between(0.3, 0.5) : r.between(0.25, 0.4),
    liftPhase: run ? r.between(0.85, 1.02) : r.between(0.72, 0.88),
    leanToStanceDeg: pair(r, lean, 1),
    leanPhase: r.between(0.3, 0.65),
    // M: pelvis turns by about +-4-6 deg in walking, with the leading foot's side forward at its contact; less and
    // earlier in running. The thorax turns the other way, more in running.
    pelvisRotationDeg: run ? r.between(2, 5) : r.between(3, 6),
    pelvisRotationPhase: run ? r.between(-0.4, 0) : r.between(-0.1, 0.12),
    trunkRotationDeg: run ? r.between(5, 12) : r.between(3, 7),
    trunkRotationPhase: run ? r.between(-0.3, 0.15) : r.between(-0.1, 0.2),
    pelvicTiltDeg: run ? r.between(3, 8) : r.between(0, 4),
    pelvicPitchDeg: r.between(0.7, 2.5),
    pelvicPitchPhase: r.between(0, 1),
    trunkForwardTiltDeg: run ? r.between(3, 9) : r.between(0, 4),
    trunkPitchDeg: r.between(0.5, run ? 3 : 1.8),
    trunkPitchPhase: r.between(0.1, 0.6),
    // V: symmetry angle of contact 0.6 +- 0.1 % in healthy runners (Girard 2019), about 2 % of side difference.
    contactTimeRatio: opposed(r, 0.01),
    stepTimeRatio: opposed(r, 0.01),
    // M: fore-aft peaks 0.2 body weights in walking, 0.2-0.4 in running; sideways 0.03-0.06 and 0.05-0.15.
    brakingForceBw: run ? r.between(0.2, 0.38) : r.between(0.13, 0.22),
    lateralForceBw: pair(r, run ? r.between(0.05, 0.14) : r.between(0.03, 0.06), 0.006),
    // M: an impact peak in heel strikers 15-35 ms after contact; none in others.
    heelImpact: pair(r, run ? Math.max(0, r.between(-0.2, 0.5)) : r.between(0.05, 0.3), 0.03),
    // M: sacral acceleration peaks 2-6 g in running, little above the mean motion in walking.
    shockG: pair(r, run ? r.between(0.6, 4) : r.between(0.1, 0.6), run ? 0.15 : 0.03),
    heelImpactAtS: r.between(0.018, 0.032),
    heelImpactHalfWidthS: r.between(0.011, 0.018),
    extensionShare: run ? r.between(0, 0.8) : 0,
    pelvisBounceM: r.between(0, 0.006),
    pelvisSwayM: r.between(0.002, 0.01),
    // V: stride time varies by a few percent at most (detectable change of the CV 0.5 %); M for the rest.
    stepTimeCv: run ? r.between(0.008, 0.018) : r.between(0.012, 0.025),
    contactTimeCv: r.between(0.012, 0.03),
    heightSdM: 0.0015,
    // V: repeated runners' pelvic drop, detectable difference 2.7 deg (Dingenen 2018), so about 1 deg of scatter.
    angleSdDeg: r.between(0.4, 1),
  };
}

function pair(r: Random, mean: number, sd: number): PerSide {
  const half = sd * r.normal();
  return { left: Math.max(0, mean + half), right: Math.max(0, mean - half) };
}

function opposed(r: Random, sd: number): PerSide {
  const half = sd * r.normal();
  return { left: 1 + half, right: 1 - half };
}
