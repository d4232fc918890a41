/**
 * Standing on one leg: the weight goes over the foot, the other one leaves the ground, sway and catching movements, and
 * down again: on purpose, or because the body tips over to the free side and the foot must catch it.
 */
import type { Act, ActScene, ActStep, Hold } from './acts.ts';
import type { Waypoint } from './course.ts';
import type { Knot } from './curve.ts';
import { otherSide, type FootEvent } from './plan.ts';
import { CorrelatedNoise } from './random.ts';
import type { Side } from './script.ts';

/** M throughout: seconds on both feet before, between and after. */
const READY_S = 0.6;
const BETWEEN_S = 1.2;
/** Tipping over takes about this; the body then moves sideways and sinks a little. */
const FALL_S = 0.5;
const FALL_M = 0.12;
const FALL_MPS = 0.45;
const SINK_M = 0.015;
const SINK_MPS = 0.08;
const CATCH_S = 0.5;
/** Of an ordinary walking contact's jolt: a foot caught in a fall, and one put down. */
const FALL_JOLT = 1;
const PUT_DOWN_JOLT = 0.15;
/** Corrections keep clear of each other and of the ends. */
const CORRECTION_APART_S = 1.3;
const CORRECTION_S = 0.55;

export function planSingleLeg(step: Extract<ActStep, { kind: 'single-leg-stand' }>, scene: ActScene): Act {
  const { profile, random, startS, rest } = scene;
  const { side } = step;
  const style = profile.acts.singleLeg;
  const towards = side === 'right' ? 1 : -1;
  const sign = side === 'left' ? 1 : -1;
  const free = otherSide(side);
  const right: Waypoint[] = [{ tS: startS, placeM: 0, velocityMps: 0 }];
  const up: Waypoint[] = [{ tS: startS, placeM: 0, velocityMps: 0 }];
  const obliquity: Knot[] = [];
  const trunk: Knot[] = [];
  const place: Knot[] = [];
  const events: FootEvent[] = [];
  const jolts: Act['jolts'] = [];
  const holds: Hold[] = [];
  const high = sign * style.swingSideHeightDeg[side];
  const lean = sign * style.leanToStanceDeg[side];
  const overM = towards * style.shiftM[side];
  let atS = startS + READY_S;
  step.holdsS.forEach((holdS, k) => {
    const fell = k < step.holdsS.length - 1 || step.fallsAtEnd === true;
    const liftS = atS + style.shiftS * style.liftShare;
    const touchS = liftS + holdS;
    right.push({ tS: atS, placeM: 0, velocityMps: 0 }, { tS: atS + style.shiftS, placeM: overM, velocityMps: 0 });
    obliquity.push({ tS: atS + 0.05, value: rest.pelvicObliquityDeg });
    trunk.push({ tS: atS + 0.05, value: rest.trunkLateralTiltDeg });
    const hold: Hold = { startS: liftS, endS: touchS, fell, corrections: drawCorrections(scene, side, liftS, touchS) };
    const settledS = Math.max(liftS, atS + style.shiftS) + 0.1;
    const swayEndS = touchS - (fell ? FALL_S : 0.1);
    const scatter = style.swayDeg[side];
    swaying(scene, obliquity, high, scatter, [settledS, swayEndS], hold, -0.3);
    swaying(scene, trunk, lean, scatter, [settledS, swayEndS], hold, 1);
    swaying(scene, place, 0, style.swayM, [settledS, swayEndS], hold, 0);
    let downS: number;
    if (fell) {
      right.push({ tS: touchS - FALL_S, placeM: overM, velocityMps: 0 });
      right.push({ tS: touchS, placeM: overM - towards * FALL_M, velocityMps: -towards * FALL_MPS });
      up.push({ tS: touchS - FALL_S, placeM: 0, velocityMps: 0 });
      up.push({ tS: touchS, placeM: -SINK_M, velocityMps: -SINK_MPS });
      up.push({ tS: touchS + 0.3, placeM: 0, velocityMps: 0 });
      // The trunk is thrown the other way.
      trunk.push({ tS: touchS - 0.08, value: lean + sign * 5 });
      downS = touchS + CATCH_S;
    } else {
      const backS = touchS - random.between(-0.1, 0.3) * style.shiftS;
      right.push({ tS: backS, placeM: overM, velocityMps: 0 });
      downS = backS + style.shiftS;
    }
    right.push({ tS: downS, placeM: 0, velocityMps: 0 });
    obliquity.push({ tS: downS, value: rest.pelvicObliquityDeg });
    trunk.push({ tS: downS, value: rest.trunkLateralTiltDeg });
    events.push({ tS: liftS, side: free, type: 'toe_off' }, { tS: touchS, side: free, type: 'initial_contact' });
    const jolt = fell ? FALL_JOLT : PUT_DOWN_JOLT;
    jolts.push({ tS: touchS, side: free, sizeG: jolt * profile.walk.shockG[free] });
    holds.push(hold);
    atS = downS + BETWEEN_S;
  });
  const stillFromS = right.at(-1)!.tS;
  return {
    mark: `single-leg-stand-${side}`,
    startS,
    endS: stillFromS + READY_S,
    endHeadingRad: scene.headingRad,
    courses: [
      { line: 'right', headingRad: scene.headingRad, waypoints: right },
      { line: 'up', headingRad: scene.headingRad, waypoints: up },
    ],
    knots: { pelvicObliquityDeg: obliquity, trunkLateralTiltDeg: trunk, pelvisRightM: place },
    events,
    jolts,
    standing: { side, holds },
    turn: null,
    leap: null,
    stillFromS,
  };
}

function drawCorrections(scene: ActScene, side: Side, fromS: number, toS: number): Hold['corrections'] {
  const { random } = scene;
  const { correctionsPerMin, correctionDeg } = scene.profile.acts.singleLeg;
  const perS = correctionsPerMin[side] / 60;
  const corrections: Hold['corrections'] = [];
  if (perS <= 0) return corrections;
  const waitS = (): number => CORRECTION_APART_S - Math.log(1 - random.uniform()) / perS;
  for (let tS = fromS + waitS(); tS < toS - CORRECTION_APART_S; tS += waitS()) {
    const towards: Side = random.uniform() < 0.5 ? 'left' : 'right';
    corrections.push({ tS, towards, sizeDeg: correctionDeg * random.between(0.8, 1.2) });
  }
  return corrections;
}

/** Sway about a mean, with the corrections of the hold on top; `share` of each correction is this segment's. */
function swaying(
  { random }: ActScene,
  knots: Knot[],
  mean: number,
  sd: number,
  [fromS, toS]: [number, number],
  hold: Hold,
  share: number,
): void {
  const noise = new CorrelatedNoise(random, 0.6);
  for (let tS = fromS; tS < toS; tS += random.between(0.5, 1)) {
    if (hold.corrections.some((c) => tS > c.tS - 0.1 && tS < c.tS + CORRECTION_S + 0.1)) continue;
    knots.push({ tS, value: mean + (tS === fromS ? 0 : sd * noise.next()) });
  }
  for (const { tS, towards, sizeDeg } of hold.corrections) {
    // Right side up tips to the left.
    const peak = share * (towards === 'left' ? sizeDeg : -sizeDeg);
    if (share === 0) continue;
    knots.push({ tS, value: mean }, { tS: tS + 0.4 * CORRECTION_S, value: mean + peak });
    knots.push({ tS: tS + CORRECTION_S, value: mean });
  }
  if (toS > fromS) knots.push({ tS: toS, value: mean });
}
