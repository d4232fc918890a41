/** Whether the samples of a sensor can be what their units say: a wrong unit or column gives results that look like any others. */
import { DEG_PER_RAD, STANDARD_GRAVITY_MPS2 } from '@ambipede/shared';
import type { ImuSample } from '../motion/types.ts';

export const PLAUSIBLE = {
  /** The middle of all accelerations, in g: at rest 1, and in a run not far from it. Units differ by a factor of 9.8 or more. Common practice, no source. */
  medianG: [0.3, 3],
  /** Outside of these, the beginning of a file is remarked upon: it mostly begins at rest. */
  medianAtRestG: [0.85, 1.15],
  /** A trunk turns less fast, rad/s (2300 deg/s), and less than that half of the time. Common practice, no source. */
  rateMaxRadPerS: 40,
  rateMedianMaxRadPerS: 6,
  /** No sensor worn on a trunk reads more, m/s^2. */
  accelMaxMps2: 2000,
  /** Somebody whose acceleration scatters by this much, m/s^2, turns faster than the other, rad/s. */
  movingMps2: 2,
  movingRadPerS: 0.2,
} as const;

/** Why they cannot be, and what to do; null when nothing speaks against them. */
export function faultOf(samples: readonly ImuSample[]): string | null {
  const sizes = sizesOf(samples);
  const medianG = median(sizes) / STANDARD_GRAVITY_MPS2;
  const [least, most] = PLAUSIBLE.medianG;
  if (!(medianG >= least && medianG <= most))
    return `The middle of all accelerations is ${short(medianG)} g, and of somebody on their feet it is about 1 g. Check the unit of acceleration, and that its columns are not those of the rates.`;
  if (sizes.some((size) => size > PLAUSIBLE.accelMaxMps2))
    return 'An acceleration of more than 200 g is in the file. Check the columns and the decimal mark.';
  const rates = Float64Array.from(samples, ({ gx, gy, gz }) => Math.hypot(gx, gy, gz));
  const usual = median(rates);
  if (fastestOf(samples) > PLAUSIBLE.rateMaxRadPerS || usual > PLAUSIBLE.rateMedianMaxRadPerS)
    return `Rates of up to ${Math.round(fastestOf(samples) * DEG_PER_RAD)} deg/s, ${Math.round(usual * DEG_PER_RAD)} in the middle, are faster than a trunk turns. Check the unit of the rates, and their columns.`;
  return null;
}

/** What is to be doubted, as plain sentences. */
export function doubtsOf(samples: readonly ImuSample[]): string[] {
  const sizes = sizesOf(samples);
  const mean = sizes.reduce((sum, size) => sum + size, 0) / sizes.length;
  const scatter = Math.sqrt(sizes.reduce((sum, size) => sum + (size - mean) ** 2, 0) / sizes.length);
  const fastest = fastestOf(samples);
  if (scatter < PLAUSIBLE.movingMps2 || fastest > PLAUSIBLE.movingRadPerS) return [];
  return [
    `No rate is above ${short(fastest * DEG_PER_RAD)} deg/s although the sensor is shaken: the rates may be in rad/s. Check their unit.`,
  ];
}

/** Of the beginning of a file, which mostly is at rest; null when it looks so. */
export function doubtAtRest(samples: readonly ImuSample[]): string | null {
  const medianG = median(sizesOf(samples)) / STANDARD_GRAVITY_MPS2;
  const [least, most] = PLAUSIBLE.medianAtRestG;
  if (medianG >= least && medianG <= most) return null;
  return `The middle of the first accelerations is ${short(medianG)} g; at rest it is about 1 g. If the athlete stood still, check the unit of acceleration.`;
}

function sizesOf(samples: readonly ImuSample[]): Float64Array {
  return Float64Array.from(samples, ({ ax, ay, az }) => Math.hypot(ax, ay, az));
}

function fastestOf(samples: readonly ImuSample[]): number {
  return samples.reduce((most, { gx, gy, gz }) => Math.max(most, Math.hypot(gx, gy, gz)), 0);
}

function median(values: Float64Array): number {
  return values.slice().sort()[values.length >> 1] ?? NaN;
}

function short(value: number): number {
  return Number(value.toPrecision(2));
}
