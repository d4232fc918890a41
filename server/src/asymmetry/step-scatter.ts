/**
 * Is the difference more than the athlete's own step-to-step scatter? Two readings, both given:
 *
 * - Exell et al. 2012 (J Biomech 45:1108-1111): an asymmetry counts only when it is significantly (p < 0.05) larger than
 *   the variability within each side. Here the test allows for neighbouring stances being alike.
 * - Bishop et al. 2016 (Strength Cond J 38(6):27-32): real only when larger than the variation within a side, that is,
 *   more than one standard deviation. Many stances make a small difference significant; they do not make it large.
 */
import { estimateDifference } from './difference.ts';
import { tailBeyond } from './estimate.ts';
import { sdOf } from './moments.ts';
import { STANCES_PER_SIDE_MIN } from './stances-per-side.ts';

export const SIGNIFICANCE = 0.05;

export interface StepScatter {
  /** Left - right, in the metric's unit. */
  difference: number;
  /** Scatter of single stances within a side: root mean square of the two standard deviations, in the metric's unit. */
  scatterSd: number;
  /** |difference| / scatterSd; null without scatter. */
  differencePerSd: number | null;
  /** Two-sided. */
  p: number;
  isMoreThanScatter: boolean;
  isLargerThanOneSd: boolean;
}

/**
 * @param left values in order of time, any one unit
 * @returns null with fewer than `STANCES_PER_SIDE_MIN` a side
 */
export function testAgainstScatter(left: readonly number[], right: readonly number[]): StepScatter | null {
  if (Math.min(left.length, right.length) < STANCES_PER_SIDE_MIN) return null;
  const estimate = estimateDifference(left, right);
  if (estimate === null) return null;
  const { difference } = estimate;
  const size = Math.abs(difference);
  const scatterSd = Math.sqrt((sdOf(left) ** 2 + sdOf(right) ** 2) / 2);
  const p = Math.min(1, 2 * tailBeyond(estimate, size));
  return {
    difference,
    scatterSd,
    differencePerSd: scatterSd > 0 ? size / scatterSd : null,
    p,
    isMoreThanScatter: p < SIGNIFICANCE,
    isLargerThanOneSd: size > scatterSd,
  };
}
