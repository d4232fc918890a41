/**
 * How sure the mean of serially correlated values is, for one assumed correlation of neighbours (a first-order
 * autoregression): the pieces of the restricted likelihood and the variance of the plain mean, both in closed form.
 * Restricted likelihood: Patterson & Thompson 1971, Biometrika 58:545-554; for autoregressions Cheang & Reinsel 2000,
 * J Am Stat Assoc 95:1173-1184 (both from memory).
 */
export interface SerialMean {
  logLikelihood: number;
  /** Variance of the plain mean; its degrees of freedom are n - 1. */
  variance: number;
}

/**
 * @param deviations values minus their mean, in order of time; two or more, not all zero
 * @param phi correlation of neighbours, within (-1, 1)
 */
export function serialMean(deviations: readonly number[], phi: number): SerialMean {
  const n = deviations.length;
  const innovation = 1 - phi * phi;
  let squares = deviations[0]! ** 2;
  let sum = deviations[0]!;
  for (let i = 1; i < n; i += 1) {
    const step = deviations[i]! - phi * deviations[i - 1]!;
    squares += (step * step) / innovation;
    sum += step / (1 + phi);
  }
  const information = 1 + ((n - 1) * (1 - phi)) / (1 + phi);
  const residual = squares - (sum * sum) / information;
  // Sum of all elements of the correlation matrix phi^|i - j|.
  const correlations = n + (2 * phi * (n * (1 - phi) - (1 - phi ** n))) / (1 - phi) ** 2;
  return {
    logLikelihood: -0.5 * ((n - 1) * (Math.log(innovation) + Math.log(residual)) + Math.log(information)),
    variance: ((residual / (n - 1)) * correlations) / (n * n),
  };
}
