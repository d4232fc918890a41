/** Bounds of the tests in this folder, each from the goals of the design or from what they imply. */

/** No false frontal mean above this with realistic sensor errors, deg. */
export const FALSE_FRONTAL_MEAN_DEG = 0.6;

/** Left-right difference of drop and lean against synthetic truth, deg. */
export const DIFFERENCE_DEG = 0.5;

/** An error of the zero shows twice in a difference of sides, so it may be half of that. */
export const ZERO_DEG = DIFFERENCE_DEG / 2;

/**
 * How far the trunk may be out of step with the pelvis, s: a trunk that sways by `swayDeg` at stride frequency turns at
 * most at 2 pi f times that, and its lean in a stance then is off by no more than the goal.
 */
export function clockErrorSMax(stridesPerS: number, swayDeg = 5): number {
  return DIFFERENCE_DEG / (2 * Math.PI * stridesPerS * swayDeg);
}
