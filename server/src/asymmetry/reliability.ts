/**
 * How repeatable a metric is over athletes measured in several sessions: intraclass correlations, standard error of
 * measurement (SEM), minimal detectable change, typical error.
 *
 * Which correlation to show: form 2,1 (athletes and sessions both drawn from many, single session) answers "would another
 * session have given the same value". An intraclass correlation grows with the spread between the athletes, the SEM does
 * not (Weir 2005): for one athlete's change the SEM counts.
 */
import { chiSquareQuantile, fQuantile } from './quantiles.ts';
import { sdOf } from './moments.ts';
import { meanSquaresOf, type MeanSquares } from './mean-squares.ts';

export interface Interval95 {
  value: number;
  ci95: [number, number];
}

/** Named as by Shrout & Fleiss 1979, Psychol Bull 86:420-428: model 1, 2 or 3; one session or the mean of all k. */
export interface IntraclassCorrelations {
  oneWaySingle: Interval95;
  twoWayRandomSingle: Interval95;
  twoWayMixedSingle: Interval95;
  oneWayMean: Interval95;
  twoWayRandomMean: Interval95;
  twoWayMixedMean: Interval95;
}

export interface Reliability {
  athletes: number;
  sessions: number;
  meanSquares: MeanSquares;
  /** Raw formulas: a negative variance of the sessions is not set to zero. null when nothing differs between athletes or between their sessions. */
  icc: IntraclassCorrelations | null;
  /** sqrt(MSE), in the metric's unit: Weir 2005, J Strength Cond Res 19:231-240. Not SD sqrt(1 - ICC), which differs. */
  sem: Interval95;
  /** SEM 1.96 sqrt(2): a change between two sessions of one athlete beyond this is real in 95 %. Weir 2005. */
  minimalDetectableChange: Interval95;
}

/** Two-sided 95 % of a normal distribution, and two measurements in one change. */
export const CHANGE_PER_SEM = 1.96 * Math.SQRT2;
const UPPER = 0.975;

/**
 * @param table one row per athlete, one column per session, one unit
 * @returns null with fewer than two athletes or two sessions
 * @throws RangeError on rows of unequal length or a value that is not finite
 */
export function reliabilityOf(table: readonly (readonly number[])[]): Reliability | null {
  const n = table.length;
  const k = table[0]?.length ?? 0;
  const meanSquares = meanSquaresOf(table);
  if (meanSquares === null) return null;
  const sem = withChiSquareInterval(Math.sqrt(meanSquares.error), (n - 1) * (k - 1));
  const varies = meanSquares.error > 0 && meanSquares.athletes > 0;
  return {
    athletes: n,
    sessions: k,
    meanSquares,
    icc: varies ? correlationsOf(meanSquares, n, k) : null,
    sem,
    minimalDetectableChange: scaled(sem, CHANGE_PER_SEM),
  };
}

/**
 * Typical error: SD of the paired differences / sqrt(2), free of a shift common to all (Hopkins 2000, Sports Med 30:1-15).
 *
 * @returns null with fewer than two pairs
 * @throws RangeError on unequal numbers
 */
export function typicalErrorOf(first: readonly number[], second: readonly number[]): Interval95 | null {
  if (first.length !== second.length) throw new RangeError('Each first value needs its second one.');
  if (first.length < 2) return null;
  const differences = first.map((v, i) => second[i]! - v);
  return withChiSquareInterval(sdOf(differences) / Math.SQRT2, first.length - 1);
}

/** The interval of a standard deviation of normal values with these degrees of freedom. */
export function withChiSquareInterval(value: number, degrees: number): Interval95 {
  const bound = (p: number): number => value * Math.sqrt(degrees / chiSquareQuantile(p, degrees));
  return { value, ci95: [bound(UPPER), bound(1 - UPPER)] };
}

function scaled({ value, ci95 }: Interval95, factor: number): Interval95 {
  return { value: factor * value, ci95: [factor * ci95[0], factor * ci95[1]] };
}

/** Formulas and intervals: Shrout & Fleiss 1979; two-way random also McGraw & Wong 1996, Psychol Methods 1:30-46 (intervals from memory). */
function correlationsOf(ms: MeanSquares, n: number, k: number): IntraclassCorrelations {
  const { athletes: b, within: w, sessions: j, error: e } = ms;
  const oneWay = fBounds(b / w, n - 1, n * (k - 1));
  const mixed = fBounds(b / e, n - 1, (n - 1) * (k - 1));
  const single = (f: number): number => (f - 1) / (f + k - 1);
  const average = (f: number): number => 1 - 1 / f;
  const both = (f: (bound: number) => number, bounds: [number, number]): [number, number] => [
    f(bounds[0]),
    f(bounds[1]),
  ];
  const random = (b - e) / (b + (k - 1) * e + (k * (j - e)) / n);
  const randomBounds = twoWayRandomBounds(ms, random, n, k);
  return {
    oneWaySingle: { value: single(b / w), ci95: both(single, oneWay) },
    twoWayRandomSingle: { value: random, ci95: randomBounds },
    twoWayMixedSingle: { value: single(b / e), ci95: both(single, mixed) },
    oneWayMean: { value: average(b / w), ci95: both(average, oneWay) },
    twoWayRandomMean: {
      value: (b - e) / (b + (j - e) / n),
      ci95: both((r) => (k * r) / (1 + (k - 1) * r), randomBounds),
    },
    twoWayMixedMean: { value: average(b / e), ci95: both(average, mixed) },
  };
}

function fBounds(f: number, numerator: number, denominator: number): [number, number] {
  return [f / fQuantile(UPPER, numerator, denominator), f * fQuantile(UPPER, denominator, numerator)];
}

/** Satterthwaite's degrees of freedom for the mixture of session and error variance. */
function twoWayRandomBounds(ms: MeanSquares, r: number, n: number, k: number): [number, number] {
  const { athletes: b, sessions: j, error: e } = ms;
  const ofSessions = k * r * (j / e);
  const ofError = n * (1 + (k - 1) * r) - k * r;
  const degrees = ((k - 1) * (n - 1) * (ofSessions + ofError) ** 2) / ((n - 1) * ofSessions ** 2 + ofError ** 2);
  const upper = fQuantile(UPPER, n - 1, degrees);
  const lower = fQuantile(UPPER, degrees, n - 1);
  const noise = k * j + (n * k - k - n) * e;
  return [(n * (b - upper * e)) / (upper * noise + n * b), (n * (lower * b - e)) / (noise + n * lower * b)];
}
