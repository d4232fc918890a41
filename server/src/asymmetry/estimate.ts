/**
 * A difference together with how sure it is: a weighted mixture of Student's t distributions about it. One part is the
 * textbook case; several parts stand for what is not known about the scatter itself.
 */
import { densityOf, studentT, studentTUpperTail, upperTailOf } from './quantiles.ts';

export interface Estimate {
  difference: number;
  /** Weights add up to 1; standard errors in the unit of the difference. */
  parts: readonly EstimatePart[];
}

export interface EstimatePart {
  weight: number;
  standardError: number;
  degrees: number;
}

const STEPS_MAX = 200;
const RELATIVE_STEP = 1e-12;

/** Weight of the mixture beyond `distance` on one side of the difference. */
export function tailBeyond(estimate: Estimate, distance: number): number {
  let tail = 0;
  for (const { weight, standardError, degrees } of estimate.parts) {
    if (standardError > 0) tail += weight * studentTUpperTail(distance / standardError, degrees);
    else if (distance <= 0) tail += distance < 0 ? weight : weight / 2;
  }
  return tail;
}

/** @param level e.g. 0.95 */
export function intervalOf(estimate: Estimate, level: number): [number, number] {
  const half = halfWidth(estimate, (1 - level) / 2);
  return [estimate.difference - half, estimate.difference + half];
}

/** Where the tail is `alpha` (< 0.5): Newton's method, kept between bounds that halve when a step leaves them. */
function halfWidth(estimate: Estimate, alpha: number): number {
  const parts = estimate.parts
    .filter((part) => part.standardError > 0)
    .map((part) => ({ ...part, distribution: studentT(part.degrees) }));
  if (parts.length === 0) return 0;
  // Parts without scatter have no tail beyond any width above 0.
  let low = 0;
  let high = Infinity;
  let x = 2 * Math.sqrt(parts.reduce((sum, part) => sum + part.weight * part.standardError ** 2, 0));
  for (let step = 0; step < STEPS_MAX; step += 1) {
    let excess = -alpha;
    let slope = 0;
    for (const { weight, standardError, distribution } of parts) {
      excess += weight * upperTailOf(distribution, x / standardError);
      slope += (weight / standardError) * densityOf(distribution, x / standardError);
    }
    if (excess > 0) low = x;
    else high = x;
    let next = x + excess / slope;
    if (!(next > low && next < high)) next = high === Infinity ? 2 * x : (low + high) / 2;
    if (Math.abs(next - x) <= RELATIVE_STEP * x) return next;
    x = next;
  }
  return x;
}

/** The same with an independent, known standard uncertainty added, such as that of a sensor's zero. */
export function withUncertainty(estimate: Estimate, sigma: number): Estimate {
  if (sigma === 0) return estimate;
  const parts = estimate.parts.map((part) => {
    const variance = part.standardError ** 2;
    const total = variance + sigma ** 2;
    // Welch-Satterthwaite: the added variance is known, so it adds no uncertainty about itself.
    const degrees = variance > 0 ? Math.min(DEGREES_MAX, part.degrees * (total / variance) ** 2) : DEGREES_MAX;
    return { weight: part.weight, standardError: Math.sqrt(total), degrees };
  });
  return { difference: estimate.difference, parts };
}

/** Student's t is normal to six digits from here on. */
const DEGREES_MAX = 1e6;
