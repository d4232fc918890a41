/**
 * How the sternum's clock relates to the pelvis's, from movement that both sensors feel. The vertical acceleration of
 * the trunk is nearly one signal at both places, but steps repeat, so a coarse lag is found first with the help of how
 * fast each sensor turns (bows, starts and stops do not repeat). Then, in windows along the recording, the lag of the
 * best correlation; a robust line (Theil-Sen: Sen 1968, J Am Stat Assoc 63:1379-1389, from memory) through the lags
 * gives offset and skew.
 */
import { butterworthLowPass } from '../signal/butterworth.ts';

export const CLOCK_MATCH = {
  rateHz: 200,
  /** Above this the two places no longer move alike, Hz. */
  cutoffHz: 8,
  /** The same for the turning rate: slower than a step, Hz. */
  turnCutoffHz: 1.2,
  /** What a second away from the wall clocks' own word costs in the coarse search, in log-likelihood. */
  distanceCost: 0.3,
  /** How far the wall clocks of two sensors may be apart, s. */
  searchS: 2,
  windowS: 8,
  hopS: 4,
  /** A second lag at least this far from the best, s, that is nearly as good means that steps were told from steps by chance. */
  rivalDistanceS: 0.2,
  rivalMargin: 3,
  coarseWindowS: 4,
  /** No two worn sensors agree better than this, whatever a short window says. */
  correlationCeiling: 0.98,
  /** Root mean square of the turning rate about its mean below which a window tells nothing, rad/s. */
  turningMin: 0.1,
  /** Around the coarse offset, s. */
  fineSearchS: 0.15,
  /** Root mean square of the movement in a window, m/s^2, and correlation, below which it tells nothing. */
  movementMin: 0.6,
  correlationMin: 0.5,
  /** Windows needed to tell a skew from scatter, and the largest skew of a quartz clock with margin, ppm. */
  skewWindowsMin: 4,
  skewPpmMax: 300,
} as const;

export interface ClockRelation {
  /** To be added to the sternum's time to get the pelvis's, at `atS`. */
  offsetS: number;
  /** Further drift of that per second of pelvis time. */
  skew: number;
  atS: number;
  windows: number;
}

/** Vertical acceleration (m/s^2) and size of the turning rate (rad/s) of one sensor. */
export interface SharedMovement {
  t: readonly number[];
  vertical: readonly number[];
  turning: readonly number[];
}

/** Null when the two never move together enough to tell, or only in steps that all look alike. */
export function matchClocks(pelvis: SharedMovement, sternum: SharedMovement): ClockRelation | null {
  const fromS = Math.max(pelvis.t[0] ?? 0, (sternum.t[0] ?? 0) - CLOCK_MATCH.searchS);
  const toS = Math.min(
    pelvis.t[pelvis.t.length - 1] ?? 0,
    (sternum.t[sternum.t.length - 1] ?? 0) + CLOCK_MATCH.searchS,
  );
  if (!(toS - fromS > 2)) return null;
  const { rateHz } = CLOCK_MATCH;
  const n = Math.floor((toS - fromS) * rateHz);
  const at = (m: SharedMovement, value: readonly number[], cutoffHz: number): Float64Array =>
    lowPass(resample(m.t, value, fromS, n, rateHz), rateHz, cutoffHz);
  const p = at(pelvis, pelvis.vertical, CLOCK_MATCH.cutoffHz);
  const s = at(sternum, sternum.vertical, CLOCK_MATCH.cutoffHz);
  const coarse = coarseLag(
    p,
    s,
    at(pelvis, pelvis.turning, CLOCK_MATCH.turnCutoffHz),
    at(sternum, sternum.turning, CLOCK_MATCH.turnCutoffHz),
  );
  if (coarse === null) return null;
  const points: { atS: number; offsetS: number }[] = [];
  const window = Math.min(n, Math.round(CLOCK_MATCH.windowS * rateHz));
  const hop = Math.round(CLOCK_MATCH.hopS * rateHz);
  for (let start = 0; start + window <= n; start += hop) {
    const lag = fineLag(p, s, start, start + window, coarse, Math.round(CLOCK_MATCH.fineSearchS * rateHz));
    if (lag !== null) points.push({ atS: fromS + (start + window / 2) / rateHz, offsetS: lag / rateHz });
  }
  if (points.length === 0) return null;
  return robustLine(points);
}

function robustLine(points: readonly { atS: number; offsetS: number }[]): ClockRelation {
  const slopes: number[] = [];
  for (let i = 0; i < points.length; i += 1) {
    for (let j = i + 1; j < points.length; j += 1) {
      slopes.push((points[j]!.offsetS - points[i]!.offsetS) / (points[j]!.atS - points[i]!.atS));
    }
  }
  const raw = points.length >= CLOCK_MATCH.skewWindowsMin ? median(slopes) : 0;
  const limit = CLOCK_MATCH.skewPpmMax * 1e-6;
  const skew = Math.max(-limit, Math.min(limit, raw));
  const atS = median(points.map((p) => p.atS));
  return { offsetS: median(points.map((p) => p.offsetS - skew * (p.atS - atS))), skew, atS, windows: points.length };
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

function resample(
  t: readonly number[],
  value: readonly number[],
  fromS: number,
  n: number,
  rateHz: number,
): Float64Array {
  const out = new Float64Array(n);
  let k = 0;
  for (let i = 0; i < n; i += 1) {
    const tS = fromS + i / rateHz;
    while (k < t.length - 2 && t[k + 1]! < tS) k += 1;
    const t0 = t[k]!;
    const t1 = t[k + 1] ?? t0;
    if (tS < t0 || tS > t1 || t1 - t0 > 0.1) continue;
    out[i] = value[k]! + ((value[k + 1]! - value[k]!) * (tS - t0)) / (t1 - t0 || 1);
  }
  return out;
}

/** Forwards and backwards, so that both signals keep their timing. */
function lowPass(x: Float64Array, rateHz: number, cutoffHz: number): Float64Array {
  const { a0, a1, a2, b1, b2 } = butterworthLowPass(rateHz, cutoffHz, 2);
  for (let pass = 0; pass < 2; pass += 1) {
    let x1 = 0;
    let x2 = 0;
    let y1 = 0;
    let y2 = 0;
    for (let i = 0; i < x.length; i += 1) {
      const value = x[i]!;
      const y = a0 * value + a1 * x1 + a2 * x2 + b1 * y1 + b2 * y2;
      x2 = x1;
      x1 = value;
      y2 = y1;
      y1 = y;
      x[i] = y;
    }
    x.reverse();
  }
  return x;
}

/**
 * Lag in samples (pelvis index = sternum index + lag) over the whole recording; null when it cannot be told for sure.
 * Windows add up as independent looks, each by the Gaussian likelihood of its correlation, -ln(1 - r^2) (so that one bow,
 * which fits at one lag only, outweighs many like steps).
 */
function coarseLag(p: Float64Array, s: Float64Array, pTurn: Float64Array, sTurn: Float64Array): number | null {
  const { rateHz, searchS, coarseWindowS, rivalDistanceS, rivalMargin, distanceCost } = CLOCK_MATCH;
  const reach = Math.round(searchS * rateHz);
  const window = Math.min(p.length, Math.round(coarseWindowS * rateHz));
  const stride = 4;
  removeMean(pTurn);
  removeMean(sTurn);
  const scores: { lag: number; score: number }[] = [];
  for (let lag = -reach; lag <= reach; lag += stride) {
    let score = (-distanceCost * Math.abs(lag)) / rateHz;
    for (let from = 0; from + window <= p.length; from += window) {
      score += likelihood(correlation(p, s, from, from + window, lag, stride, CLOCK_MATCH.movementMin));
      score += likelihood(correlation(pTurn, sTurn, from, from + window, lag, stride, CLOCK_MATCH.turningMin));
    }
    scores.push({ lag, score });
  }
  const best = scores.reduce((a, b) => (b.score > a.score ? b : a));
  const far = rivalDistanceS * rateHz;
  const hasRival = scores.some((x) => Math.abs(x.lag - best.lag) > far && x.score > best.score - rivalMargin);
  return hasRival ? null : best.lag;
}

function likelihood(r: number): number {
  return r <= 0 ? 0 : -Math.log(1 - Math.min(r, CLOCK_MATCH.correlationCeiling) ** 2);
}

function removeMean(x: Float64Array): void {
  const mean = x.reduce((sum, v) => sum + v, 0) / x.length;
  for (let i = 0; i < x.length; i += 1) x[i] = x[i]! - mean;
}

/** The same within a window, near `around` and between samples; null when nothing moves or the two do not fit. */
function fineLag(
  p: Float64Array,
  s: Float64Array,
  from: number,
  to: number,
  around: number,
  reach: number,
): number | null {
  const score = (lag: number): number => correlation(p, s, from, to, lag, 1, CLOCK_MATCH.movementMin);
  let best = -2;
  let bestAt = 0;
  for (let lag = around - reach; lag <= around + reach; lag += 1) {
    const c = score(lag);
    if (c > best) {
      best = c;
      bestAt = lag;
    }
  }
  if (best < CLOCK_MATCH.correlationMin) return null;
  // Parabola through the three values about the best.
  const before = score(bestAt - 1);
  const after = score(bestAt + 1);
  const bend = before - 2 * best + after;
  return bend < 0 ? bestAt + (0.5 * (before - after)) / bend : bestAt;
}

function correlation(
  p: Float64Array,
  s: Float64Array,
  from: number,
  to: number,
  lag: number,
  stride: number,
  movementMin: number,
): number {
  let sps = 0;
  let spp = 0;
  let sss = 0;
  let n = 0;
  for (let i = Math.max(from, lag); i < Math.min(to, s.length + lag); i += stride) {
    const a = p[i]!;
    const b = s[i - lag]!;
    sps += a * b;
    spp += a * a;
    sss += b * b;
    n += 1;
  }
  if (n === 0 || Math.min(spp, sss) / n < movementMin ** 2) return -1;
  return sps / Math.sqrt(spp * sss + 1e-12);
}
