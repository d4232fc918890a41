/**
 * Percent indices of left against right, for ratio-scale values only (times, ranges: a true zero, all above it). With a
 * zero or a negative value the denominators give nonsense (+2.0 deg against -1.9 deg: 7800 %), so such input is refused.
 *
 * One sign for all: positive when LEFT is the larger, like the difference left - right. The cited formulas are written
 * with right first and so have the other sign.
 */
import { DEG_PER_RAD, METRICS, type StanceMetricKey } from '@ambipede/shared';

export type IndexRefusal = 'not a ratio scale' | 'not a finite number' | 'not above zero';

/** Either a value or the reason why there is none. */
export type Index = { value: number; refused: null } | { value: null; refused: IndexRefusal };

export type IndexFormula = (left: number, right: number) => Index;

function ofPositive(a: number, b: number, formula: () => number): Index {
  if (!Number.isFinite(a) || !Number.isFinite(b)) return { value: null, refused: 'not a finite number' };
  if (a <= 0 || b <= 0) return { value: null, refused: 'not above zero' };
  return { value: formula(), refused: null };
}

/** 100 (L - R) / (0.5 (L + R)), %. Robinson, Herzog & Nigg 1987, J Manipulative Physiol Ther 10:172-176. */
export const symmetryIndexPercent: IndexFormula = (left, right) =>
  ofPositive(left, right, () => (100 * (left - right)) / (0.5 * (left + right)));

/** 100 (atan(L / R) - 45 deg) / 90 deg, %, within +-50. Zifchock et al. 2008, Gait Posture 27:622-627. */
export const symmetryAnglePercent: IndexFormula = (left, right) =>
  ofPositive(left, right, () => (100 * (Math.atan(left / right) * DEG_PER_RAD - 45)) / 90);

/** 100 (L - R) / max(L, R), %. One of the nine collected by Bishop et al. 2016, Strength Cond J 38(6):27-32. */
export const shareOfLargerPercent: IndexFormula = (left, right) =>
  ofPositive(left, right, () => (100 * (left - right)) / Math.max(left, right));

/** 100 (L - R) / (L + R), %: half the symmetry index (Int J Phys Med Rehabil 2014, 2:201, Table 1). */
export const shareOfSumPercent: IndexFormula = (left, right) =>
  ofPositive(left, right, () => (100 * (left - right)) / (left + right));

/** L / R, dimensionless; swapping the sides inverts it, so ratios must not be averaged. */
export const sideRatio: IndexFormula = (left, right) => ofPositive(left, right, () => left / right);

/** Limb symmetry index 100 involved / uninvolved, %. By affected side, not by left and right. */
export function limbSymmetryPercent(involved: number, uninvolved: number): Index {
  return ofPositive(involved, uninvolved, () => (100 * involved) / uninvolved);
}

/** The same for a metric of the catalogue: one on an interval scale (an angle from level) is refused whatever its values. */
export function indexOfMetric(key: StanceMetricKey, formula: IndexFormula, left: number, right: number): Index {
  if (METRICS[key].scale !== 'ratio') return { value: null, refused: 'not a ratio scale' };
  return formula(left, right);
}
