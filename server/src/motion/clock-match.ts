/**
 * How the sternum's clock relates to the pelvis's, from movement that both sensors feel. The vertical acceleration of
 * the trunk is nearly one signal at both places; in windows along the recording the lag of the best correlation is
 * found, and a robust line (Theil-Sen: Sen 1968, J Am Stat Assoc 63:1379-1389, from memory) through the lags gives offset
 * and skew.
 */
import { butterworthLowPass } from '../signal/butterworth.ts';

export const CLOCK_MATCH = {
  rateHz: 200,
  /** Above this the two places no longer move alike, Hz. */
  cutoffHz: 8,
  /** How far the wall clocks of two sensors may be apart, s. */
  searchS: 2,
  windowS: 8,
  hopS: 4,
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

export interface TimedSignal {
  t: readonly number[];
  value: readonly number[];
}

/** Null when the two never move together enough to tell. */
export function matchClocks(pelvis: TimedSignal, sternum: TimedSignal): ClockRelation | null {
  const fromS = Math.max(pelvis.t[0] ?? 0, (sternum.t[0] ?? 0) - CLOCK_MATCH.searchS);
  const toS = Math.min(
    pelvis.t[pelvis.t.length - 1] ?? 0,
    (sternum.t[sternum.t.length - 1] ?? 0) + CLOCK_MATCH.searchS,
  );
  if (!(toS - fromS > 2)) return null;
  const { rateHz } = CLOCK_MATCH;
  const n = Math.floor((toS - fromS) * rateHz);
  const p = lowPass(resample(pelvis, fromS, n, rateHz), rateHz);
  const s = lowPass(resample(sternum, fromS, n, rateHz), rateHz);

  const coarse = bestLag(p, s, 0, n, 0, Math.round(CLOCK_MATCH.searchS * rateHz), 4);
  if (coarse === null) return null;
  const points: { atS: number; offsetS: number }[] = [];
  const window = Math.min(n, Math.round(CLOCK_MATCH.windowS * rateHz));
  const hop = Math.round(CLOCK_MATCH.hopS * rateHz);
  for (let start = 0; start + window <= n; start += hop) {
    const lag = bestLag(p, s, start, start + window, coarse, Math.round(CLOCK_MATCH.fineSearchS * rateHz), 1);
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

function resample(signal: TimedSignal, fromS: number, n: number, rateHz: number): Float64Array {
  const out = new Float64Array(n);
  let k = 0;
  for (let i = 0; i < n; i += 1) {
    const tS = fromS + i / rateHz;
    while (k < signal.t.length - 2 && signal.t[k + 1]! < tS) k += 1;
    const t0 = signal.t[k]!;
    const t1 = signal.t[k + 1] ?? t0;
    if (tS < t0 || tS > t1 || t1 - t0 > 0.1) continue;
    out[i] = signal.value[k]! + ((signal.value[k + 1]! - signal.value[k]!) * (tS - t0)) / (t1 - t0 || 1);
  }
  return out;
}

/** Forwards and backwards, so that both signals keep their timing. */
function lowPass(x: Float64Array, rateHz: number): Float64Array {
  const { a0, a1, a2, b1, b2 } = butterworthLowPass(rateHz, CLOCK_MATCH.cutoffHz, 2);
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

/** Lag in samples (pelvis index = sternum index + lag) of the best correlation within reach of `around`; null when poor. */
function bestLag(
  p: Float64Array,
  s: Float64Array,
  from: number,
  to: number,
  around: number,
  reach: number,
  stride: number,
): number | null {
  let best = -2;
  let bestAt = 0;
  const score = (lag: number): number => correlation(p, s, from, to, lag, stride);
  for (let lag = around - reach; lag <= around + reach; lag += stride) {
    const c = score(lag);
    if (c > best) {
      best = c;
      bestAt = lag;
    }
  }
  if (best < CLOCK_MATCH.correlationMin) return null;
  if (stride > 1) return bestAt;
  // Parabola through the three values about the best.
  const before = score(bestAt - 1);
  const after = score(bestAt + 1);
  const bend = before - 2 * best + after;
  return bend < 0 ? bestAt + (0.5 * (before - after)) / bend : bestAt;
}

function correlation(p: Float64Array, s: Float64Array, from: number, to: number, lag: number, stride: number): number {
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
  if (n === 0 || Math.min(spp, sss) / n < CLOCK_MATCH.movementMin ** 2) return -1;
  return sps / Math.sqrt(spp * sss);
}
