/**
 * Normal, Student's t, F and chi-square: distribution functions and their inverses (degrees of freedom need not be whole).
 * Relations to the incomplete beta and gamma functions: Abramowitz & Stegun 1964, 26.2 to 26.7. Checked against scipy.
 */
import { incompleteBeta, incompleteGamma, logBeta, upperIncompleteGamma } from './special-functions.ts';

/** P(Z > z). */
export function normalUpperTail(z: number): number {
  const tail = 0.5 * upperIncompleteGamma(0.5, (z * z) / 2);
  return z >= 0 ? tail : 1 - tail;
}

export function normalCdf(z: number): number {
  return normalUpperTail(-z);
}

/** @param p in (0, 1) */
export function normalQuantile(p: number): number {
  if (p < 0.5) return -normalQuantile(1 - p);
  return inverse((z) => 1 - normalUpperTail(z), p);
}

/** Student's t of one number of degrees of freedom: what does not depend on t is worked out once. */
export interface StudentT {
  degrees: number;
  /** ln B(degrees / 2, 1 / 2). */
  logBeta: number;
}

export function studentT(degrees: number): StudentT {
  return { degrees, logBeta: logBeta(degrees / 2, 0.5) };
}

/** P(T > t). Exact in the far tail too. */
export function upperTailOf({ degrees, logBeta }: StudentT, t: number): number {
  const tail = 0.5 * incompleteBeta(degrees / (degrees + t * t), degrees / 2, 0.5, logBeta);
  return t >= 0 ? tail : 1 - tail;
}

export function densityOf({ degrees, logBeta }: StudentT, t: number): number {
  return Math.exp(-logBeta - 0.5 * Math.log(degrees) - ((degrees + 1) / 2) * Math.log1p((t * t) / degrees));
}

export function studentTUpperTail(t: number, degrees: number): number {
  return upperTailOf(studentT(degrees), t);
}

/** @param p in (0, 1) */
export function studentTQuantile(p: number, degrees: number): number {
  if (p < 0.5) return -studentTQuantile(1 - p, degrees);
  return inverse((t) => 1 - studentTUpperTail(t, degrees), p);
}

export function fCdf(f: number, numerator: number, denominator: number): number {
  return incompleteBeta((numerator * f) / (numerator * f + denominator), numerator / 2, denominator / 2);
}

/** @param p in (0, 1) */
export function fQuantile(p: number, numerator: number, denominator: number): number {
  return inverse((f) => fCdf(f, numerator, denominator), p);
}

export function chiSquareCdf(x: number, degrees: number): number {
  return incompleteGamma(degrees / 2, x / 2);
}

/** @param p in (0, 1) */
export function chiSquareQuantile(p: number, degrees: number): number {
  return inverse((x) => chiSquareCdf(x, degrees), p);
}

/** The x >= 0 at which an increasing function reaches p, by halving until two neighbouring numbers are left. */
function inverse(cdf: (x: number) => number, p: number): number {
  let low = 0;
  let high = 1;
  while (cdf(high) < p && high < Number.MAX_VALUE / 4) {
    low = high;
    high *= 2;
  }
  for (;;) {
    const middle = low + (high - low) / 2;
    if (middle <= low || middle >= high) return middle;
    if (cdf(middle) < p) low = middle;
    else high = middle;
  }
}
