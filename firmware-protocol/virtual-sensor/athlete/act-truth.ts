/** What really happened on one leg, in a turn and in a landing, from the exact motion on the fine grid. Times: pelvis clock. */
import type { Turn } from './acts.ts';
import { orientationAt, type BodyMotion, type SegmentMotion } from './body.ts';
import { GRAVITY_MPS2 } from './plan.ts';
import { forwardTiltOf, headingOf, lateralTiltOf, type Quat } from './rotation.ts';
import type { Side } from './script.ts';
import type { Timeline } from './timeline.ts';

const DEG = 180 / Math.PI;

type Clock = (sessionS: number) => number;
/** Pelvis and trunk. */
interface Both {
  pelvis: number;
  trunk: number;
}

export interface TruthHold {
  /** The free foot leaves the ground, and touches it again. */
  startS: number;
  endS: number;
  heldS: number;
  fell: boolean;
  /** Means over the hold. + lift, - drop; + over the standing foot; trunk against pelvis, + opens the free side. */
  swingSideHeightDeg: number;
  leanToStanceDeg: number;
  sideBendDeg: number;
  /** Root mean square of the tilts about their mean. */
  lateralRmsDeg: Both;
  forwardRmsDeg: Both;
  /** Catching movements, by the side to which the trunk tips. */
  corrections: { t: number; towards: Side; sizeDeg: number }[];
}

export interface TruthSingleLegStand {
  side: Side;
  startS: number;
  endS: number;
  holds: TruthHold[];
}

export interface TruthHalfTurn {
  direction: Side;
  /** The pelvis begins to turn, and has done so. */
  onsetS: number;
  endS: number;
  turnDeg: number;
  leads: Turn['leads'];
  /** About the vertical, always positive. */
  peakRateDegPerS: Both;
  /** Chest against pelvis in the direction of the turn since its onset, + chest ahead: the larger excursion, the one to the other side after it. */
  separationOutDeg: number;
  separationBackDeg: number;
  /** Trunk, + into the turn. */
  leanIntoTurnMeanDeg: number;
  leanIntoTurnPeakDeg: number;
  stillFromS: number;
  flightS: number;
}

export interface TruthLanding {
  t: number;
  feet: Side | 'both';
  flightS: number;
  /** In the first contact after the flight: g without gravity, + up; about the vertical, always positive; + right side up. */
  peakVerticalAccelerationG: Both;
  peakTurningDegPerS: Both;
  peakTiltDeg: Both;
  /** Null when the athlete runs on. */
  stillFromS: number | null;
}

export function singleLegTruth(body: BodyMotion, timeline: Timeline, clock: Clock): TruthSingleLegStand[] {
  return timeline.acts.flatMap(({ standing, startS, endS }) => {
    if (standing === null) return [];
    const sign = standing.side === 'left' ? 1 : -1;
    const holds = standing.holds.map((hold): TruthHold => {
      const over = (segment: SegmentMotion, angle: (q: Quat) => number) =>
        anglesOf(body, segment, angle, hold.startS, hold.endS);
      const obliquity = over(body.pelvis, lateralTiltOf);
      const trunk = over(body.thorax, lateralTiltOf);
      return {
        startS: clock(hold.startS),
        endS: clock(hold.endS),
        heldS: clock(hold.endS) - clock(hold.startS),
        fell: hold.fell,
        swingSideHeightDeg: sign * mean(obliquity),
        leanToStanceDeg: sign * mean(trunk),
        sideBendDeg: sign * (mean(trunk) - mean(obliquity)),
        lateralRmsDeg: { pelvis: rms(obliquity), trunk: rms(trunk) },
        forwardRmsDeg: { pelvis: rms(over(body.pelvis, forwardTiltOf)), trunk: rms(over(body.thorax, forwardTiltOf)) },
        corrections: hold.corrections.map(({ tS, ...rest }) => ({ t: clock(tS), ...rest })),
      };
    });
    return [{ side: standing.side, startS: clock(startS), endS: clock(endS), holds }];
  });
}

export function halfTurnTruth(body: BodyMotion, timeline: Timeline, clock: Clock): TruthHalfTurn[] {
  return timeline.acts.flatMap(({ turn, leap, stillFromS }) => {
    if (turn === null) return [];
    const way = turn.direction === 'left' ? 1 : -1;
    const over = (segment: SegmentMotion, angle: (q: Quat) => number, toS: number) =>
      anglesOf(body, segment, angle, turn.onsetS, toS);
    const pelvis = unwrapped(over(body.pelvis, headingOf, stillFromS));
    const chest = unwrapped(over(body.thorax, headingOf, stillFromS));
    const apart = pelvis.map((p, k) => way * (chest[k]! - chest[0]! - (p - pelvis[0]!)));
    const outAt = apart.reduce((best, value, k) => (Math.abs(value) > Math.abs(apart[best]!) ? k : best), 0);
    const out = apart[outAt]!;
    const lean = over(body.thorax, lateralTiltOf, turn.endS).map((tilt) => way * tilt);
    const turned = over(body.pelvis, headingOf, turn.endS).length - 1;
    return [
      {
        direction: turn.direction,
        onsetS: clock(turn.onsetS),
        endS: clock(turn.endS),
        turnDeg: Math.abs(pelvis[turned]! - pelvis[0]!),
        leads: turn.leads,
        peakRateDegPerS: { pelvis: peakRate(pelvis, body.dt), trunk: peakRate(chest, body.dt) },
        separationOutDeg: out,
        separationBackDeg: Math.max(0, ...apart.slice(outAt).map((value) => -Math.sign(out) * value)),
        leanIntoTurnMeanDeg: mean(lean),
        leanIntoTurnPeakDeg: furthest(lean),
        stillFromS: clock(stillFromS),
        flightS: leap === null ? 0 : leap.touchS - leap.takeOffS,
      },
    ];
  });
}

/** Of jumps on the spot, turns in the air and run-ups. */
export function landingTruth(body: BodyMotion, timeline: Timeline, clock: Clock): TruthLanding[] {
  const landings: TruthLanding[] = [];
  for (const { leap, stillFromS } of timeline.acts) {
    if (leap === null) continue;
    const flightS = leap.touchS - leap.takeOffS;
    landings.push(landing(body, clock, leap.touchS, stillFromS, leap.feet, flightS, stillFromS));
  }
  for (const { takeOff, contacts } of timeline.bouts) {
    const touch = contacts.find((c) => c.kind === 'landing');
    if (takeOff === null || touch === undefined) continue;
    landings.push(landing(body, clock, touch.icS, touch.toS, takeOff.landing, takeOff.flightS, null));
  }
  return landings.sort((p, q) => p.t - q.t);
}

function landing(
  body: BodyMotion,
  clock: Clock,
  touchS: number,
  toS: number,
  feet: Side | 'both',
  flightS: number,
  stillFromS: number | null,
): TruthLanding {
  const each = (measure: (segment: SegmentMotion) => number): Both => ({
    pelvis: measure(body.pelvis),
    trunk: measure(body.thorax),
  });
  return {
    t: clock(touchS),
    feet,
    flightS,
    peakVerticalAccelerationG: each((segment) => largestUp(body, segment, touchS, toS) / GRAVITY_MPS2),
    peakTurningDegPerS: each((segment) =>
      peakRate(unwrapped(anglesOf(body, segment, headingOf, touchS, toS)), body.dt),
    ),
    peakTiltDeg: each((segment) => furthest(anglesOf(body, segment, lateralTiltOf, touchS, toS))),
    stillFromS: stillFromS === null ? null : clock(stillFromS),
  };
}

/** Degrees at every grid point of the span. */
function anglesOf(body: BodyMotion, segment: SegmentMotion, angle: (q: Quat) => number, fromS: number, toS: number) {
  const values: number[] = [];
  for (let g = Math.ceil(fromS / body.dt); g <= Math.floor(toS / body.dt); g++) {
    values.push(DEG * angle(orientationAt(segment, g)));
  }
  return values;
}

function largestUp(body: BodyMotion, { y }: SegmentMotion, fromS: number, toS: number): number {
  let largest = -Infinity;
  for (let g = Math.ceil(fromS / body.dt); g <= Math.floor(toS / body.dt); g++) {
    largest = Math.max(largest, (y[g + 1]! - 2 * y[g]! + y[g - 1]!) / body.dt ** 2);
  }
  return largest;
}

function peakRate(deg: readonly number[], dt: number): number {
  let peak = 0;
  for (let k = 1; k < deg.length; k++) peak = Math.max(peak, Math.abs(deg[k]! - deg[k - 1]!) / dt);
  return peak;
}

function unwrapped(deg: readonly number[]): number[] {
  let turns = 0;
  return deg.map((value, k) => {
    if (k > 0) turns += Math.round((deg[k - 1]! - value) / 360);
    return value + 360 * turns;
  });
}

function mean(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0) / values.length;
}

function rms(values: readonly number[]): number {
  const middle = mean(values);
  return Math.sqrt(mean(values.map((v) => (v - middle) ** 2)));
}

function furthest(values: readonly number[]): number {
  return values.reduce((best, v) => (Math.abs(v) > Math.abs(best) ? v : best), 0);
}
