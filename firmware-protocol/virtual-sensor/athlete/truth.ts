/** What really happened, for judging an analysis. All times are in the pelvis sensor's clock. */
import { orientationAt, type BodyMotion, type SegmentMotion } from './body.ts';
import type { PlannedContact } from './plan.ts';
import type { Posture } from './profile.ts';
import type { TruthHalfTurn, TruthLanding, TruthSingleLegStand } from './act-truth.ts';
import { forwardTiltOf, headingOf, lateralTiltOf, type Quat } from './rotation.ts';
import type { Side } from './script.ts';
import type { Timeline } from './timeline.ts';

const DEG = 180 / Math.PI;

export interface TruthContact {
  t: number;
  side: Side;
  type: 'initial_contact' | 'toe_off';
}

export interface TruthAngles {
  t: Float64Array;
  pelvicObliquityDeg: Float64Array;
  trunkLateralTiltDeg: Float64Array;
  pelvicTiltDeg: Float64Array;
  trunkForwardTiltDeg: Float64Array;
  /** Turn of the pelvis and thorax about the vertical, + to the left, unwrapped. */
  pelvisHeadingDeg: Float64Array;
  trunkHeadingDeg: Float64Array;
}

/** One stance on one foot, from its initial contact to its toe-off. */
export interface TruthStance {
  task: 'walk' | 'run' | 'run-up' | 'strides';
  side: Side;
  initialContact: number;
  toeOff: number;
  contactTimeS: number;
  /** To the next initial contact; negative in walking (double support). */
  flightTimeS: number;
  stepTimeS: number;
  /** Way of the centre of mass to the next initial contact. */
  stepLengthM: number;
  /** Largest vertical force on the body in the contact, in N, and how far its centre of mass sinks from the touch, in m. */
  peakForceN: number;
  sinkingM: number;
  swingSideDropDeg: number;
  swingSideLiftDeg: number;
  obliquityAtContactDeg: number;
  obliquityExcursionDeg: number;
  leanToStanceMeanDeg: number;
  leanToStancePeakDeg: number;
  trunkLeanExcursionDeg: number;
  /** Neither speeding up nor slowing down. */
  steady: boolean;
  kind: PlannedContact['kind'];
}

export interface SessionTruth {
  contacts: TruthContact[];
  angles: TruthAngles;
  stances: TruthStance[];
  takeOffs: { t: number; side: Side; flightS: number; landing: Side | 'both' }[];
  singleLegStands: TruthSingleLegStand[];
  halfTurns: TruthHalfTurn[];
  landings: TruthLanding[];
  bodyMassKg: number;
  /** Sensor to segment, w x y z. */
  mounting: { pelvis: Quat; sternum?: Quat };
  /** Time on the sternum's clock = offset + (1 + skew) * time on the pelvis's. */
  clock: { sternumOffsetS: number; sternumSkewPpm: number };
  referencePosture: Posture;
  restingLean: Posture;
  /** Segment centres in m (world: X forward at the start, Y up, Z right) and orientations, at `angles.t`. */
  motion: { pelvis: SegmentMotion; thorax: SegmentMotion };
}

export function angleTruth(body: BodyMotion, times: Float64Array, clock: (sessionS: number) => number): TruthAngles {
  const at = (segment: SegmentMotion, angle: (q: Quat) => number) =>
    unwrap(times.map((t) => DEG * angle(orientationNear(segment, t, body))));
  return {
    t: times.map(clock),
    pelvicObliquityDeg: at(body.pelvis, lateralTiltOf),
    trunkLateralTiltDeg: at(body.thorax, lateralTiltOf),
    pelvicTiltDeg: at(body.pelvis, forwardTiltOf),
    trunkForwardTiltDeg: at(body.thorax, forwardTiltOf),
    pelvisHeadingDeg: at(body.pelvis, headingOf),
    trunkHeadingDeg: at(body.thorax, headingOf),
  };
}

/** Straight between grid points a millisecond apart. */
function orientationNear(segment: SegmentMotion, t: number, body: BodyMotion): Quat {
  const [k, u] = gridPlace(t, body);
  const p = orientationAt(segment, k);
  if (u === 0) return p;
  const q = orientationAt(segment, k + 1);
  const near = p[0] * q[0] + p[1] * q[1] + p[2] * q[2] + p[3] * q[3] < 0 ? -u : u;
  const mix = p.map((value, i) => (1 - u) * value + near * q[i]!);
  const n = Math.hypot(...mix);
  return [mix[0]! / n, mix[1]! / n, mix[2]! / n, mix[3]! / n];
}

function gridPlace(t: number, body: BodyMotion): [number, number] {
  const at = t / body.dt;
  const near = Math.round(at);
  if (Math.abs(at - near) < 1e-6) return [Math.min(near, body.count - 1), 0];
  const k = Math.min(Math.floor(at), body.count - 2);
  return [k, at - k];
}

function unwrap(deg: Float64Array): Float64Array {
  for (let k = 1; k < deg.length; k++) deg[k]! += 360 * Math.round((deg[k - 1]! - deg[k]!) / 360);
  return deg;
}

export function motionTruth(body: BodyMotion, segment: SegmentMotion, times: Float64Array): SegmentMotion {
  const line = (column: Float64Array) =>
    times.map((t) => {
      const [k, u] = gridPlace(t, body);
      return u === 0 ? column[k]! : (1 - u) * column[k]! + u * column[k + 1]!;
    });
  const turns = Array.from(times, (t) => orientationNear(segment, t, body));
  const part = (i: 0 | 1 | 2 | 3) => Float64Array.from(turns, (q) => q[i]);
  return {
    x: line(segment.x),
    y: line(segment.y),
    z: line(segment.z),
    qw: part(0),
    qx: part(1),
    qy: part(2),
    qz: part(3),
  };
}

export function contactTruth(timeline: Timeline, clock: (sessionS: number) => number): TruthContact[] {
  return timeline.bouts
    .flatMap((bout) => bout.events)
    .concat(timeline.acts.flatMap((act) => act.events))
    .sort((p, q) => p.tS - q.tS)
    .map((event) => ({ t: clock(event.tS), side: event.side, type: event.type }));
}

/** From the angles on the fine grid. Landings on both feet are no stance of one side. */
export function stanceTruth(
  body: BodyMotion,
  timeline: Timeline,
  clock: (sessionS: number) => number,
  massKg: number,
): TruthStance[] {
  const { centreOfMass: com } = body;
  const stances: TruthStance[] = [];
  for (const bout of timeline.bouts) {
    bout.contacts.forEach((contact, k) => {
      const next = bout.contacts[k + 1];
      if (contact.startsStanding || contact.endsStanding || contact.bothFeet || next === undefined) return;
      const from = Math.ceil(contact.icS / body.dt);
      const to = Math.floor(contact.toS / body.dt);
      const sign = contact.side === 'left' ? 1 : -1;
      let lowest = Infinity;
      let highest = -Infinity;
      let leanSum = 0;
      let leanMost = -Infinity;
      let leanLeast = Infinity;
      let forceMost = 0;
      let comLowest = Infinity;
      for (let g = from; g <= to; g++) {
        const swingHeight = sign * DEG * lateralTiltOf(orientationAt(body.pelvis, g));
        const lean = sign * DEG * lateralTiltOf(orientationAt(body.thorax, g));
        lowest = Math.min(lowest, swingHeight);
        highest = Math.max(highest, swingHeight);
        leanSum += lean;
        leanMost = Math.max(leanMost, lean);
        leanLeast = Math.min(leanLeast, lean);
        forceMost = Math.max(forceMost, com.forceY[g]!);
        comLowest = Math.min(comLowest, com.y[g]!);
      }
      const rate = (clock(contact.toS) - clock(contact.icS)) / (contact.toS - contact.icS);
      stances.push({
        task: bout.task,
        side: contact.side,
        initialContact: clock(contact.icS),
        toeOff: clock(contact.toS),
        contactTimeS: rate * (contact.toS - contact.icS),
        flightTimeS: rate * (next.icS - contact.toS),
        stepTimeS: rate * (next.icS - contact.icS),
        stepLengthM: Math.hypot(
          com.x[Math.round(next.icS / body.dt)]! - com.x[from]!,
          com.z[Math.round(next.icS / body.dt)]! - com.z[from]!,
        ),
        peakForceN: massKg * forceMost,
        sinkingM: com.y[from]! - comLowest,
        swingSideDropDeg: -lowest,
        swingSideLiftDeg: highest,
        obliquityAtContactDeg: sign * DEG * lateralTiltOf(orientationAt(body.pelvis, from)),
        obliquityExcursionDeg: highest - lowest,
        leanToStanceMeanDeg: leanSum / (to - from + 1),
        leanToStancePeakDeg: leanMost,
        trunkLeanExcursionDeg: leanMost - leanLeast,
        steady: contact.steady,
        kind: contact.kind,
      });
    });
  }
  return stances;
}
