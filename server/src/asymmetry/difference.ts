/**
 * The difference left - right with a 95 % interval. Steps of one person resemble their neighbours, and seven to forty
 * stances are too few to measure how much. So the interval is not taken at one guess of that correlation: it is Student's
 * t averaged over all correlations of neighbours, each weighted by how well it fits the stances of both sides
 * (restricted likelihood of a first-order autoregression; beforehand all are weighted alike). Nothing is random in it.
 *
 * A bootstrap over blocks of such few stances covers the true difference in 75 to 90 % instead of 95 % when neighbours
 * correlate; `tests/bench/coverage.ts` shows both.
 */
import { intervalOf, type Estimate, type EstimatePart } from './estimate.ts';
import { meanOf } from './moments.ts';
import { serialMean } from './serial-correlation.ts';

/** Correlations of neighbouring stances that are considered. */
export const SERIAL_CORRELATION = { min: -0.95, max: 0.95, step: 0.05 } as const;
/** Less weight than this changes no printed digit. */
const WEIGHT_MIN = 1e-6;

const CORRELATIONS = Array.from(
  { length: Math.round((SERIAL_CORRELATION.max - SERIAL_CORRELATION.min) / SERIAL_CORRELATION.step) + 1 },
  (_, i) => SERIAL_CORRELATION.min + i * SERIAL_CORRELATION.step,
);

export interface Difference {
  difference: number;
  ci95: [number, number];
}

/** @returns null with fewer than two values a side. Values in order of time, any one unit. */
export function differenceWithInterval(left: readonly number[], right: readonly number[]): Difference | null {
  const estimate = estimateDifference(left, right);
  return estimate === null ? null : { difference: estimate.difference, ci95: intervalOf(estimate, 0.95) };
}

/** The same as a distribution. @returns null with fewer than two values a side */
export function estimateDifference(left: readonly number[], right: readonly number[]): Estimate | null {
  if (left.length < 2 || right.length < 2) return null;
  const difference = meanOf(left) - meanOf(right);
  const sides = [left, right].map(deviationsOf);
  const fits = CORRELATIONS.map((phi) => fitOf(sides, phi));
  const best = Math.max(...fits.map((fit) => fit.logWeight));
  const weights = fits.map((fit) => Math.exp(fit.logWeight - best));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const parts: EstimatePart[] = [];
  fits.forEach(({ standardError, degrees }, i) => {
    const weight = weights[i]! / total;
    if (weight >= WEIGHT_MIN) parts.push({ weight, standardError, degrees });
  });
  return { difference, parts };
}

/** Zeros when all values are the same, whatever rounding makes of their mean. */
function deviationsOf(values: readonly number[]): number[] {
  const first = values[0]!;
  // From the first value on, so that a large common offset costs no digits.
  const shifted = values.map((v) => v - first);
  const mean = meanOf(shifted);
  return shifted.every((v) => v === 0) ? shifted : shifted.map((v) => v - mean);
}

/** Both sides share the correlation of neighbours, each has its own scatter. Degrees of freedom: Welch 1947. */
function fitOf(sides: readonly number[][], phi: number): EstimatePart & { logWeight: number } {
  let logWeight = 0;
  let variance = 0;
  let spread = 0;
  for (const deviations of sides) {
    if (deviations.every((v) => v === 0)) continue;
    const side = serialMean(deviations, phi);
    logWeight += side.logLikelihood;
    variance += side.variance;
    spread += side.variance ** 2 / (deviations.length - 1);
  }
  return { weight: 0, logWeight, standardError: Math.sqrt(variance), degrees: spread > 0 ? variance ** 2 / spread : 1 };
}
