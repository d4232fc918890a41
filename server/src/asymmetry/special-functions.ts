/**
 * The two integrals behind all distribution functions here. Formulas: NIST Digital Library of Mathematical Functions, 5.11
 * (gamma), 8.7.1 and 8.9.2 (incomplete gamma), 8.17.22 (incomplete beta); numbering from memory, values tested against scipy.
 */
const ITERATIONS_MAX = 1000;
const RELATIVE_ERROR = 1e-15;
/** Keeps the continued fractions from dividing by zero (Lentz's method). */
const TINY = 1e-300;

/** ln Gamma(x), x > 0: Stirling's series after moving x above 10 by the recurrence. */
export function logGamma(x: number): number {
  let shift = 0;
  let y = x;
  for (; y < 10; y += 1) shift += Math.log(y);
  const inverse = 1 / (y * y);
  const series = (1 / 12 - inverse * (1 / 360 - inverse * (1 / 1260 - inverse * (1 / 1680 - inverse / 1188)))) / y;
  return (y - 0.5) * Math.log(y) - y + 0.5 * Math.log(2 * Math.PI) + series - shift;
}

/** ln B(a, b); a, b > 0. */
export function logBeta(a: number, b: number): number {
  return logGamma(a) + logGamma(b) - logGamma(a + b);
}

/** Regularised incomplete beta function I_x(a, b); a, b > 0, x in [0, 1]; ln B(a, b) may be given by who has it. */
export function incompleteBeta(x: number, a: number, b: number, logB = logBeta(a, b)): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  // The fraction converges fast on this side only.
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a, logB);
  const front = Math.exp(a * Math.log(x) + b * Math.log1p(-x) - logB) / a;
  return front / betaFraction(x, a, b);
}

/** 1 + d1 / (1 + d2 / (1 + ...)) of DLMF 8.17.22, by Lentz's method. */
function betaFraction(x: number, a: number, b: number): number {
  let value = 1;
  let c = 1;
  let d = 0;
  for (let j = 1; j <= ITERATIONS_MAX; j += 1) {
    const m = Math.floor(j / 2);
    const above = j % 2 === 0 ? m * (b - m) : -(a + m) * (a + b + m);
    const below = j % 2 === 0 ? (a + 2 * m - 1) * (a + 2 * m) : (a + 2 * m) * (a + 2 * m + 1);
    const term = (above * x) / below;
    d = 1 / notZero(1 + term * d);
    c = notZero(1 + term / c);
    value *= c * d;
    if (Math.abs(c * d - 1) < RELATIVE_ERROR) break;
  }
  return value;
}

/** Regularised lower incomplete gamma function P(a, x); a > 0, x >= 0. */
export function incompleteGamma(a: number, x: number): number {
  if (x <= 0) return 0;
  return x < a + 1 ? gammaSeries(a, x) : 1 - upperGamma(a, x);
}

/** 1 - P(a, x), exact in the far tail too. */
export function upperIncompleteGamma(a: number, x: number): number {
  if (x <= 0) return 1;
  return x < a + 1 ? 1 - gammaSeries(a, x) : upperGamma(a, x);
}

function gammaSeries(a: number, x: number): number {
  let term = 1 / a;
  let sum = term;
  for (let n = 1; n < ITERATIONS_MAX && term > RELATIVE_ERROR * sum; n += 1) {
    term *= x / (a + n);
    sum += term;
  }
  return sum * Math.exp(a * Math.log(x) - x - logGamma(a));
}

/** Continued fraction of DLMF 8.9.2, by Lentz's method. */
function upperGamma(a: number, x: number): number {
  let value = notZero(x + 1 - a);
  let c = value;
  let d = 0;
  for (let j = 1; j <= ITERATIONS_MAX; j += 1) {
    const above = -j * (j - a);
    const constant = x + 2 * j + 1 - a;
    d = 1 / notZero(constant + above * d);
    c = notZero(constant + above / c);
    value *= c * d;
    if (Math.abs(c * d - 1) < RELATIVE_ERROR) break;
  }
  return Math.exp(a * Math.log(x) - x - logGamma(a)) / value;
}

function notZero(value: number): number {
  return value === 0 ? TINY : value;
}
