/**
 * How a sensor sits on its segment, from the guided lead-in (BIOMECHANICS 2).
 *
 * Two directions in sensor axes, as in TRIAD (Black 1964): gravity in the reference stand gives Y exactly; the axis that
 * the forward bows turn about gives Z, made square to Y; X = Y x Z. The sign of X comes from gravity itself: bent
 * forward, the vertical points to the back of the body. No assumption about how the sensor was put on.
 */
import type { MountingReport } from '@ambipede/shared';
import { DEG_PER_RAD } from '@ambipede/shared';
import { conjugate, cross, dot, fromColumns, rotate, unit, type Vector } from './quaternion.ts';
import type { FusedSample, Quaternion } from './types.ts';

export interface Mounting {
  quaternion: Quaternion;
  /** m/s^2 as the sensor reads gravity in the reference stand. */
  gravity: number;
  report: MountingReport;
}

export const LEAD_IN = {
  /** A reference stand shorter than this cannot tell sway from posture, s. */
  stillSMin: 2,
  /** An athlete who sways too much to count as still may turn no faster than this, rad/s. */
  swayRateMax: (20 * Math.PI) / 180,
  /** Bows that bend less than this give no direction, rad. */
  bowMin: (10 * Math.PI) / 180,
  /** Share of the turning that is about one axis, below which the bows are to be repeated. */
  shareMin: 0.8,
  /** Angle between the bow axis and the horizontal above which the bows are to be repeated, deg. */
  offHorizontalDegMax: 12,
  /** Angle between the axes of the first and the second half of the bows above which they are to be repeated, deg. */
  repeatabilityDegMax: 8,
  /** Standard uncertainty of the frontal zero when only one reference stand is there: a default, no source. */
  frontalUncertaintyDeg: 0.6,
  /** The same when the athlete swayed through it: twice, a default too. */
  frontalUncertaintySwayingDeg: 1.2,
} as const;

/** Sensor to segment axes from the segment's Y and Z in sensor axes, unit and square to each other. */
export function mountingQuaternion(up: Vector, right: Vector): Quaternion {
  return conjugate(fromColumns(cross(up, right), up, right));
}

export interface Stand {
  /** Mean direction of gravity in sensor axes. */
  up: Vector;
  /** m/s^2 as the sensor reads it. */
  gravity: number;
  /** Seconds that really were still. */
  stillS: number;
  /** False when the athlete swayed, and the mean is over the sway. */
  isStill: boolean;
}

/**
 * Mean specific force of the still samples, in sensor axes. When there are too few, the mean over a sway that is not
 * fast serves, marked as such; null when there is too little of that too.
 */
export function gravityOfStand(stand: readonly FusedSample[], rateHz: number): Stand | null {
  const samplesMin = LEAD_IN.stillSMin * rateHz;
  const measured = stand.filter((s) => !s.filled);
  const still = measured.filter((s) => s.still);
  if (still.length >= samplesMin) return meanOfStand(still, still.length / rateHz, true);
  const swaying = measured.filter(
    (s) => Math.hypot(s.gx - s.biasX, s.gy - s.biasY, s.gz - s.biasZ) < LEAD_IN.swayRateMax,
  );
  return swaying.length >= samplesMin ? meanOfStand(swaying, still.length / rateHz, false) : null;
}

function meanOfStand(still: readonly FusedSample[], stillS: number, isStill: boolean): Stand {
  const sum: [number, number, number] = [0, 0, 0];
  for (const s of still) {
    sum[0] += s.ax;
    sum[1] += s.ay;
    sum[2] += s.az;
  }
  return { up: unit(sum), gravity: Math.sqrt(dot(sum, sum)) / still.length, stillS, isStill };
}

interface BowAxis {
  /** To the right of the body, in sensor axes, square to `up`. */
  right: Vector;
  /** Share of the squared turning rate that is about the axis, 0..1. */
  share: number;
  offHorizontalDeg: number;
  /** Deepest bow, rad. */
  depth: number;
  /** Angle between the axes of the first and the second half of the bows, deg. */
  repeatabilityDeg: number;
}

export function axisOfBows(bows: readonly FusedSample[], up: Vector): BowAxis | null {
  // Any two directions square to `up` and to each other.
  const helper: Vector = Math.abs(up[0]) < 0.7 ? [1, 0, 0] : [0, 1, 0];
  const e1 = unit(cross(helper, up));
  const e2 = cross(up, e1);
  const backward: [number, number] = [0, 0];
  let depth = 0;
  for (const s of bows) {
    const vertical = rotate(conjugate(s.orientation), 0, 0, 1);
    const b1 = dot(vertical, e1);
    const b2 = dot(vertical, e2);
    const bend = Math.hypot(b1, b2);
    // Weighted by its own size: the deep part of a bow tells the direction, the sway between bows does not.
    backward[0] += b1 * bend;
    backward[1] += b2 * bend;
    depth = Math.max(depth, Math.atan2(bend, dot(vertical, up)));
  }
  if (depth < LEAD_IN.bowMin) return null;
  const forward: Vector = unit([
    -backward[0] * e1[0] - backward[1] * e2[0],
    -backward[0] * e1[1] - backward[1] * e2[1],
    -backward[0] * e1[2] - backward[1] * e2[2],
  ]);
  const whole = turningAxis(bows, e1, e2, up);
  const axis = (angle: number): [number, number, number] => [
    Math.cos(angle) * e1[0] + Math.sin(angle) * e2[0],
    Math.cos(angle) * e1[1] + Math.sin(angle) * e2[1],
    Math.cos(angle) * e1[2] + Math.sin(angle) * e2[2],
  ];
  const line = axis(whole.angle);
  // X = Y x Z has to point where the body bent to.
  const sign = dot(cross(up, line), forward) >= 0 ? 1 : -1;
  const half = Math.floor(bows.length / 2);
  const first = axis(turningAxis(bows.slice(0, half), e1, e2, up).angle);
  const second = axis(turningAxis(bows.slice(half), e1, e2, up).angle);
  return {
    right: [line[0] * sign, line[1] * sign, line[2] * sign],
    share: whole.share,
    offHorizontalDeg: whole.offHorizontal * DEG_PER_RAD,
    depth,
    repeatabilityDeg: Math.acos(Math.min(1, Math.abs(dot(first, second)))) * DEG_PER_RAD,
  };
}

/** Principal axis of the turning rate within the plane e1, e2: the closed form for two dimensions. */
function turningAxis(
  bows: readonly FusedSample[],
  e1: Vector,
  e2: Vector,
  up: Vector,
): { angle: number; share: number; offHorizontal: number } {
  let s11 = 0;
  let s12 = 0;
  let s22 = 0;
  let s1u = 0;
  let s2u = 0;
  let suu = 0;
  for (const s of bows) {
    const w: Vector = [s.gx - s.biasX, s.gy - s.biasY, s.gz - s.biasZ];
    const w1 = dot(w, e1);
    const w2 = dot(w, e2);
    const wu = dot(w, up);
    s11 += w1 * w1;
    s12 += w1 * w2;
    s22 += w2 * w2;
    s1u += w1 * wu;
    s2u += w2 * wu;
    suu += wu * wu;
  }
  const angle = 0.5 * Math.atan2(2 * s12, s11 - s22);
  const c = Math.cos(angle);
  const d = Math.sin(angle);
  const along = c * c * s11 + 2 * c * d * s12 + d * d * s22;
  return {
    angle,
    share: along / (s11 + s22 + suu),
    // Slope of the vertical rate against the rate about the axis.
    offHorizontal: Math.atan2(Math.abs(c * s1u + d * s2u), along),
  };
}

/**
 * The mounting from all samples of reference stands and of bows so far; null while either is missing or unusable.
 * `problem` then says what to do.
 */
export function mountingFromLeadIn(
  stand: readonly FusedSample[],
  bows: readonly FusedSample[],
  rateHz: number,
): { mounting: Mounting | null; problem: string | null } {
  const gravity = gravityOfStand(stand, rateHz);
  if (gravity === null) {
    return {
      mounting: null,
      problem:
        'The reference stand was too short or too restless: repeat it for 5 seconds, back to the wall, looking ahead.',
    };
  }
  const axis = bows.length === 0 ? null : axisOfBows(bows, gravity.up);
  if (axis === null) {
    return {
      mounting: null,
      problem: 'The forward bows bend too little to tell front from back: repeat three slow, deep bows.',
    };
  }
  const remarks: string[] = [];
  if (!gravity.isStill) {
    remarks.push('The athlete swayed in the reference stand: repeat it, back to the wall, looking ahead.');
  }
  if (axis.repeatabilityDeg > LEAD_IN.repeatabilityDegMax) {
    remarks.push('The bows went in different directions: repeat them slowly, straight forward.');
  }
  if (axis.share < LEAD_IN.shareMin)
    remarks.push('The bows turned about more than one axis: repeat them straight forward, without twisting.');
  if (axis.offHorizontalDeg > LEAD_IN.offHorizontalDegMax) {
    remarks.push('The bows leaned to one side: repeat them with both feet loaded alike.');
  }
  const quaternion = mountingQuaternion(gravity.up, axis.right);
  return {
    mounting: {
      quaternion,
      gravity: gravity.gravity,
      report: {
        source: 'lead-in',
        quaternion: [quaternion.w, quaternion.x, quaternion.y, quaternion.z],
        frontalUncertaintyDeg: gravity.isStill ? LEAD_IN.frontalUncertaintyDeg : LEAD_IN.frontalUncertaintySwayingDeg,
        remarks,
        details: {
          stillS: gravity.stillS,
          gravityMps2: gravity.gravity,
          bowAxisShare: axis.share,
          bowAxisOffHorizontalDeg: axis.offHorizontalDeg,
          bowRepeatabilityDeg: axis.repeatabilityDeg,
          bowDepthDeg: axis.depth * DEG_PER_RAD,
        },
      },
    },
    problem: null,
  };
}
