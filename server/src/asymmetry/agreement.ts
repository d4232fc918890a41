/**
 * Do two ways of measuring agree? Limits of agreement with intervals: Bland & Altman 1986, Lancet i:307-310. Use 1.96 SD;
 * the paper's own example rounds that to 2. A correlation coefficient says nothing about agreement.
 *
 * Limits: assumes that the differences are about normal and do not grow with the size of the value.
 */
import { meanOf, sdOf } from './moments.ts';
import { studentTQuantile } from './quantiles.ts';

/** Two-sided 95 % of a normal distribution. */
const WITHIN_95 = 1.96;

export interface Agreement {
  n: number;
  /** Mean of first - second. */
  bias: number;
  biasCi95: [number, number];
  /** Of the differences. */
  sd: number;
  /** Within these lie 95 % of the differences. */
  limits: [number, number];
  lowerLimitCi95: [number, number];
  upperLimitCi95: [number, number];
}

/**
 * @param first one value per subject, in the order of `second`, same unit
 * @returns null with fewer than two pairs
 * @throws RangeError on unequal numbers
 */
export function limitsOfAgreement(first: readonly number[], second: readonly number[]): Agreement | null {
  const differences = differencesOf(first, second);
  const n = differences.length;
  if (n < 2) return null;
  const bias = meanOf(differences);
  const sd = sdOf(differences);
  const t = studentTQuantile(0.975, n - 1);
  const about = (centre: number, standardError: number): [number, number] => [
    centre - t * standardError,
    centre + t * standardError,
  ];
  const limits: [number, number] = [bias - WITHIN_95 * sd, bias + WITHIN_95 * sd];
  // The paper's approximation: variance of a limit = 3 sd^2 / n.
  const ofLimit = sd * Math.sqrt(3 / n);
  return {
    n,
    bias,
    biasCi95: about(bias, sd / Math.sqrt(n)),
    sd,
    limits,
    lowerLimitCi95: about(limits[0], ofLimit),
    upperLimitCi95: about(limits[1], ofLimit),
  };
}

/**
 * Repeatability coefficient of one method measured twice: 95 % of repeated pairs differ by less. Twice the root mean square
 * of the differences, since their mean is zero by assumption (Bland & Altman 1986).
 *
 * @returns null without pairs
 * @throws RangeError on unequal numbers
 */
export function repeatabilityCoefficient(first: readonly number[], second: readonly number[]): number | null {
  const differences = differencesOf(first, second);
  if (differences.length === 0) return null;
  return 2 * Math.sqrt(meanOf(differences.map((d) => d * d)));
}

function differencesOf(first: readonly number[], second: readonly number[]): number[] {
  if (first.length !== second.length) throw new RangeError('Each first value needs its second one.');
  return first.map((v, i) => v - second[i]!);
}
