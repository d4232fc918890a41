/** A jump on the spot from both feet, and the landing on one or both. */
import type { Act, ActScene, ActStep, Leap } from './acts.ts';
import { BODY_DT_S } from './body-grid.ts';
import { flightOf, type Course } from './course.ts';
import { otherSide, type FootEvent } from './plan.ts';
import type { Side } from './script.ts';

/** M throughout. */
const READY_S = 0.8;
const CROUCH_S = 0.6;
const PUSH_S = 0.34;
const LEAVE_M = 0.07;
const TOUCH_M = 0.02;
const RISE_S = 0.7;
const SECOND_FOOT_S = 0.45;
const AFTER_S = 1.2;
/** Of a running contact's jolt. */
const JOLT = 1.3;
const TWIST_S = 0.13;

export interface PlannedLeap {
  course: Course;
  events: FootEvent[];
  jolts: Act['jolts'];
  leap: Leap;
  /** The push begins; standing upright again. */
  pushS: number;
  uprightS: number;
}

export function leapOf(scene: ActScene, crouchFromS: number, flightS: number, feet: Side | 'both'): PlannedLeap {
  const { profile, headingRad } = scene;
  const style = profile.acts.jump;
  const grid = (tS: number): number => Math.round(tS / BODY_DT_S) * BODY_DT_S;
  const pushS = grid(crouchFromS + CROUCH_S);
  const takeOffS = grid(pushS + PUSH_S);
  const touchS = grid(takeOffS + flightS);
  const { leaveMps, touchMps } = flightOf(flightS, LEAVE_M - TOUCH_M, BODY_DT_S);
  const landingS = (style.landingShare * 2 * style.landingDepthM) / -touchMps;
  const uprightS = touchS + landingS + RISE_S;
  const sides: Side[] = feet === 'both' ? ['left', 'right'] : [feet];
  const leap: Leap = { takeOffS, touchS, feet };
  const second: FootEvent[] =
    feet === 'both' ? [] : [{ tS: touchS + SECOND_FOOT_S, side: otherSide(feet), type: 'initial_contact' }];
  return {
    course: {
      line: 'up',
      headingRad,
      waypoints: [
        { tS: crouchFromS, placeM: 0, velocityMps: 0 },
        { tS: pushS, placeM: -style.crouchM, velocityMps: 0 },
        { tS: takeOffS, placeM: LEAVE_M, velocityMps: leaveMps, flies: true },
        { tS: touchS, placeM: TOUCH_M, velocityMps: touchMps },
        { tS: touchS + landingS, placeM: TOUCH_M - style.landingDepthM, velocityMps: 0 },
        { tS: uprightS, placeM: 0, velocityMps: 0 },
      ],
    },
    events: [
      { tS: takeOffS, side: 'left', type: 'toe_off' },
      { tS: takeOffS, side: 'right', type: 'toe_off' },
      ...sides.map((side): FootEvent => ({ tS: touchS, side, type: 'initial_contact' })),
      ...second,
    ],
    jolts: sides.map((side) => ({ tS: touchS, side, sizeG: (JOLT * profile.run.shockG[side]) / sides.length })),
    leap,
    pushS,
    uprightS,
  };
}

export function planJump(step: Extract<ActStep, { kind: 'jump' }>, scene: ActScene): Act {
  const { profile, startS, headingRad, rest } = scene;
  const style = profile.acts.jump;
  const { course, events, jolts, leap, uprightS } = leapOf(scene, startS + READY_S, step.flightS, step.landing);
  const stillFromS = Math.max(uprightS, leap.touchS + style.settleS);
  const foot: Side = step.landing === 'both' ? 'left' : step.landing;
  const sign = foot === 'left' ? 1 : -1;
  // On both feet there is less of it.
  const size = step.landing === 'both' ? 0.3 : 1;
  const { touchS, takeOffS } = leap;
  const bump = (base: number, value: number, awayS: number) => [
    { tS: takeOffS, value: base },
    { tS: touchS - 0.03, value: base },
    { tS: touchS + awayS, value: base + size * value },
    { tS: stillFromS - 0.1, value: base },
  ];
  return {
    mark: `landing-${step.landing}`,
    startS,
    endS: stillFromS + AFTER_S,
    endHeadingRad: headingRad,
    courses: [course, swingOut(scene, touchS, stillFromS, 0.02, foot)],
    knots: {
      pelvicObliquityDeg: bump(rest.pelvicObliquityDeg, -sign * style.dropDeg[foot], TWIST_S),
      trunkLateralTiltDeg: bump(rest.trunkLateralTiltDeg, sign * style.leanDeg[foot], 1.4 * TWIST_S),
      pelvisTurnDeg: bump(0, sign * style.twistDeg[foot], TWIST_S),
      trunkTurnDeg: bump(0, -sign * style.trunkTwistDeg[foot], 1.2 * TWIST_S),
    },
    events,
    jolts,
    standing: null,
    turn: null,
    leap,
    stillFromS,
  };
}

/** Swinging sideways, less and less, until nothing is left. */
export function swingOut(
  { headingRad }: ActScene,
  fromS: number,
  stillFromS: number,
  sizeM: number,
  towards: Side,
): Course {
  const first = towards === 'right' ? sizeM : -sizeM;
  const at = (share: number): number => fromS + share * (stillFromS - fromS);
  return {
    line: 'right',
    headingRad,
    waypoints: [
      { tS: at(0), placeM: 0, velocityMps: 0 },
      { tS: at(0.3), placeM: first, velocityMps: 0 },
      { tS: at(0.65), placeM: -0.5 * first, velocityMps: 0 },
      { tS: at(1), placeM: 0, velocityMps: 0 },
    ],
  };
}
