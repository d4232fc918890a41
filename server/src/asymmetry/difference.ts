/**
 * The difference left - right with a 95 % interval. Steps of one person resemble their neighbours, so the standard error
 * comes from a moving-block bootstrap over the stances of each side in their order (Künsch 1989, Ann Stat 17:1217-1241,
 * from memory), and the interval from Student's t with the stances of the smaller side, since a bare percentile interval
 * of a handful of stances is too narrow.
 */
import { seededRandom } from './seeded-random.ts';

export const BOOTSTRAP = {
  replicates: 600,
  /** Any fixed number: it makes the result repeatable. */
  seed: 20117,
} as const;

export interface Difference {
  difference: number;
  ci95: [number, number];
}

/** @returns null with fewer than two values a side. Values in order of time, any one unit. */
export function differenceWithInterval(left: readonly number[], right: readonly number[]): Difference | null {
  if (left.length < 2 || right.length < 2) return null;
  const difference = meanOf(left) - meanOf(right);
  const standardError = Math.sqrt(blockVarianceOfMean(left) + blockVarianceOfMean(right));
  const half = studentT975(Math.min(left.length, right.length) - 1) * standardError;
  return { difference, ci95: [difference - half, difference + half] };
}

export function meanOf(values: readonly number[]): number {
  let sum = 0;
  for (const v of values) sum += v;
  return sum / values.length;
}

/** Sample standard deviation (n - 1). */
export function sdOf(values: readonly number[]): number {
  const mean = meanOf(values);
  let sum = 0;
  for (const v of values) sum += (v - mean) ** 2;
  return Math.sqrt(sum / (values.length - 1));
}

/** Each side draws from its own run of the generator, so that swapping the sides mirrors the interval. */
function blockVarianceOfMean(values: readonly number[]): number {
  const random = seededRandom(BOOTSTRAP.seed);
  const n = values.length;
  // The usual rate n^(1/3) for a mean.
  const block = Math.max(1, Math.round(Math.cbrt(n)));
  const blocks = Math.ceil(n / block);
  const means: number[] = [];
  for (let r = 0; r < BOOTSTRAP.replicates; r += 1) {
    let total = 0;
    let count = 0;
    for (let b = 0; b < blocks; b += 1) {
      const start = Math.floor(random() * n);
      for (let i = 0; i < block && count < n; i += 1, count += 1) total += values[(start + i) % n]!;
    }
    means.push(total / n);
  }
  // n / (n - 1): resampling underestimates the scatter of a small sample.
  return (sdOf(means) ** 2 * n) / (n - 1);
}

/** Two-sided 95 % point of Student's t: table to 10 degrees of freedom, then Cornish-Fisher about 1.959964 (Abramowitz & Stegun 26.7.5). */
export function studentT975(degrees: number): number {
  const table = [12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.306, 2.2622, 2.2281];
  const tabled = table[degrees - 1];
  if (tabled !== undefined) return tabled;
  const z = 1.959964;
  const g1 = (z ** 3 + z) / 4;
  const g2 = (5 * z ** 5 + 16 * z ** 3 + 3 * z) / 96;
  const g3 = (3 * z ** 7 + 19 * z ** 5 + 17 * z ** 3 - 15 * z) / 384;
  return z + g1 / degrees + g2 / degrees ** 2 + g3 / degrees ** 3;
}
