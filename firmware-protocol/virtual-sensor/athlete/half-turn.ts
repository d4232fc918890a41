/**
 * Half a turn about the vertical, on both feet or in the air: one segment leads and the other follows, out and back;
 * a lean into the turn, and some swinging until all is quiet.
 */
import type { Act, ActScene, ActStep } from './acts.ts';
import type { Course, Waypoint } from './course.ts';
import type { Knot } from './curve.ts';
import { leapOf, swingOut } from './jump.ts';

/** M: ready before, and standing on after it is quiet. */
const READY_S = 0.9;
const AFTER_S = 1.2;
/** A pivot takes the weight off the feet a little. */
const DIP_M = 0.015;
/** Turned before leaving the ground, and still to turn after the touch. */
const BEFORE_FLIGHT_DEG = 28;
const AFTER_FLIGHT_DEG = 22;
const AFTER_FLIGHT_S = 0.3;

export function planHalfTurn(step: Extract<ActStep, { kind: 'half-turn' }>, scene: ActScene): Act {
  const { profile, startS, headingRad } = scene;
  const { direction } = step;
  const style = profile.acts.halfTurn;
  const leap = step.flightS === undefined ? null : leapOf(scene, startS + READY_S, step.flightS, 'both');
  const onsetS = leap === null ? startS + READY_S : leap.pushS;
  const endS = leap === null ? onsetS + style.seconds[direction] : leap.leap.touchS + AFTER_FLIGHT_S;
  const stillFromS = endS + style.settleS[direction];
  const pivot: Course[] = leap === null ? [dip(onsetS, endS, stillFromS, headingRad)] : [leap.course];
  return {
    mark: 'half-turn',
    startS,
    endS: stillFromS + AFTER_S,
    endHeadingRad: headingRad + (direction === 'left' ? Math.PI : -Math.PI),
    courses: [...pivot, swingOut(scene, endS - 0.1, stillFromS, style.swingM, direction)],
    knots: turnKnots(scene, direction, onsetS, endS, leap?.leap ?? null),
    events: leap?.events ?? [],
    jolts: leap?.jolts ?? [],
    standing: null,
    turn: { direction, onsetS, endS, leads: style.leads[direction] },
    leap: leap?.leap ?? null,
    stillFromS,
  };
}

function turnKnots(
  { profile, headingRad, rest }: ActScene,
  direction: 'left' | 'right',
  onsetS: number,
  endS: number,
  leap: Act['leap'],
): Act['knots'] {
  const style = profile.acts.halfTurn;
  const way = direction === 'left' ? 1 : -1;
  const from = (headingRad * 180) / Math.PI;
  const lastS = endS - onsetS;
  const at = (share: number): number => onsetS + share * lastS;
  const middle: Knot[] =
    leap === null
      ? [{ tS: at(style.halfwayShare), value: from + way * 90 }]
      : [
          { tS: leap.takeOffS, value: from + way * BEFORE_FLIGHT_DEG },
          { tS: leap.touchS, value: from + way * (180 - AFTER_FLIGHT_DEG) },
        ];
  const ahead = way * (style.leads[direction] === 'chest' ? 1 : -1);
  const lean = way * style.leanDeg[direction];
  const pelvisLean = style.pelvisLeanShare * lean;
  return {
    pathHeadingDeg: [{ tS: onsetS, value: from }, ...middle, { tS: endS, value: from + way * 180 }],
    pelvisTurnDeg: [
      { tS: onsetS, value: 0 },
      { tS: endS, value: 0 },
    ],
    trunkTurnDeg: [
      { tS: onsetS, value: 0 },
      { tS: at(0.42), value: ahead * style.separationOutDeg[direction] },
      { tS: at(1), value: -ahead * style.separationBackDeg[direction] },
      { tS: endS + 0.4, value: 0 },
    ],
    trunkLateralTiltDeg: [
      { tS: onsetS, value: rest.trunkLateralTiltDeg },
      { tS: at(0.5), value: rest.trunkLateralTiltDeg + lean },
      { tS: at(1.05), value: rest.trunkLateralTiltDeg - 0.15 * lean },
      { tS: endS + 0.5, value: rest.trunkLateralTiltDeg },
    ],
    pelvicObliquityDeg: [
      { tS: onsetS, value: rest.pelvicObliquityDeg },
      { tS: at(0.5), value: rest.pelvicObliquityDeg + pelvisLean },
      { tS: endS + 0.2, value: rest.pelvicObliquityDeg },
    ],
  };
}

function dip(onsetS: number, endS: number, stillFromS: number, headingRad: number): Course {
  const waypoints: Waypoint[] = [
    { tS: onsetS - 0.4, placeM: 0, velocityMps: 0 },
    { tS: onsetS, placeM: -DIP_M, velocityMps: 0 },
    { tS: (onsetS + endS) / 2, placeM: 0.3 * DIP_M, velocityMps: 0 },
    { tS: endS, placeM: -0.4 * DIP_M, velocityMps: 0 },
    { tS: stillFromS, placeM: 0, velocityMps: 0 },
  ];
  return { line: 'up', headingRad, waypoints };
}
