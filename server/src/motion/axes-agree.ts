/**
 * Whether the axes of a sensor's two quantities belong together and are right-handed. Axes that are swapped, or rates with the wrong sign, make
 * left of right, and nothing else in the result tells.
 *
 * A vector that stands still in the room turns in the sensor's axes as dv/dt = -w x v. Gravity is such a vector: where the trunk tilts slowly,
 * its direction after a while can be foretold from the rates. In a mirror the same holds with the sign of the rates turned round. A sensor that
 * reads minus 1 g upwards cannot be told by it: down is at rest in the room as well.
 */
import type { ImuSample } from './types.ts';
import { fromRotationVector, rotateInto } from './quaternion.ts';

export const AXES = {
  /** Accelerations are averaged over this long: the shaking of a step goes. s */
  averageS: 0.5,
  /** From one direction of gravity to the one foretold. s */
  aheadS: 1,
  everyS: 0.25,
  /** Only where gravity has turned by this much in the sensor's axes, deg: a bow does, a step does not. */
  turnedMinDeg: 15,
  /** Only where the average is gravity and little else, m/s^2. */
  gravityMps2: [8.8, 10.8],
  /** So many such moments are needed to say anything. */
  momentsMin: 4,
  /** Foretold: the error is below this share of the turn. A mirror errs by twice the turn, wrong axes by about the turn. */
  foretoldShare: 0.5,
} as const;

export type Axes = 'right-handed' | 'mirrored' | 'at odds' | 'cannot tell';

/** @param samples rising in time, no value missing */
export function axesOf(samples: readonly ImuSample[], rateHz: number): Axes {
  const half = Math.round((AXES.averageS * rateHz) / 2);
  const ahead = Math.round(AXES.aheadS * rateHz);
  const step = Math.max(1, Math.round(AXES.everyS * rateHz));
  const shares = { asIs: [] as number[], mirrored: [] as number[] };
  for (let from = half; from + ahead + half < samples.length; from += step) {
    const to = from + ahead;
    if (samples[to + half]!.tS - samples[from - half]!.tS > ((ahead + 2 * half) / rateHz) * GAP_SHARE) continue;
    const [before, after] = [gravityAt(samples, from, half), gravityAt(samples, to, half)];
    if (before === null || after === null) continue;
    const turned = angleBetweenVectors(before, after);
    if (turned < AXES.turnedMinDeg * RAD) continue;
    const errorWith = (sign: number): number => angleBetweenVectors(foretold(before, samples, from, to, sign), after);
    shares.asIs.push(errorWith(1) / turned);
    shares.mirrored.push(errorWith(-1) / turned);
  }
  if (shares.asIs.length < AXES.momentsMin) return 'cannot tell';
  const [asIs, mirrored] = [median(shares.asIs), median(shares.mirrored)];
  if (Math.min(asIs, mirrored) > AXES.foretoldShare) return 'at odds';
  return asIs < mirrored ? 'right-handed' : 'mirrored';
}

const RAD = Math.PI / 180;
/** A window that is longer than its samples by more than this has a gap. */
const GAP_SHARE = 1.05;

type Vector = Float64Array;

function gravityAt(samples: readonly ImuSample[], at: number, half: number): Vector | null {
  const sum = new Float64Array(3);
  for (let i = at - half; i <= at + half; i += 1) {
    const { ax, ay, az } = samples[i]!;
    sum[0]! += ax;
    sum[1]! += ay;
    sum[2]! += az;
  }
  const mean = sum.map((value) => value / (2 * half + 1));
  const [least, most] = AXES.gravityMps2;
  const size = Math.hypot(...mean);
  return size >= least && size <= most ? mean : null;
}

function foretold(v: Vector, samples: readonly ImuSample[], from: number, to: number, sign: number): Vector {
  const vector = v.slice();
  for (let i = from; i < to; i += 1) {
    const [{ tS, gx, gy, gz }, next] = [samples[i]!, samples[i + 1]!];
    const turn = -sign * (next.tS - tS);
    const q = fromRotationVector(turn * gx, turn * gy, turn * gz);
    rotateInto(vector, q, vector[0]!, vector[1]!, vector[2]!);
  }
  return vector;
}

function angleBetweenVectors(a: Vector, b: Vector): number {
  const dot = a[0]! * b[0]! + a[1]! * b[1]! + a[2]! * b[2]!;
  return Math.acos(Math.min(1, Math.max(-1, dot / (Math.hypot(...a) * Math.hypot(...b)))));
}

function median(values: readonly number[]): number {
  return values.toSorted((a, b) => a - b)[values.length >> 1]!;
}
