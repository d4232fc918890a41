/** Smooth curves through given values at given times: how the angles of the synthetic athlete are drawn. */
export interface Knot {
  tS: number;
  value: number;
}

/** Knots closer together than this would make the curve jerk; the later one is left out. */
const KNOT_SPACING_MIN_S = 0.03;

/**
 * Curve through the knots at times k * dt, k = 0..count-1; constant before the first and after the last knot.
 * Quintic pieces with continuous slope and curvature. Extremes of the knots are extremes of the curve.
 */
export function sampleCurve(knots: readonly Knot[], dt: number, count: number): Float64Array {
  const out = new Float64Array(count);
  const ks: Knot[] = [];
  for (const knot of [...knots].sort((p, q) => p.tS - q.tS)) {
    const last = ks.at(-1);
    if (last === undefined || knot.tS - last.tS >= KNOT_SPACING_MIN_S) ks.push(knot);
  }
  if (ks.length === 0) return out;
  const slope = new Float64Array(ks.length);
  const bend = new Float64Array(ks.length);
  for (let i = 1; i + 1 < ks.length; i++) {
    const [h0, d0] = step(ks, i - 1);
    const [h1, d1] = step(ks, i);
    if (d0 * d1 > 0) {
      slope[i] = (d0 * d1 * (h0 + h1)) / (d0 * h1 + d1 * h0);
    } else if (d0 !== 0 && d1 !== 0) {
      // Curvature of a cosine at its extreme; the flatter of the two sides, so that the longer one does not overshoot.
      bend[i] = (Math.PI ** 2 / 2) * Math.sign(d1) * Math.min(Math.abs(d1 / h1), Math.abs(d0 / h0));
    }
  }
  let i = 0;
  for (let k = 0; k < count; k++) {
    const t = k * dt;
    while (i + 1 < ks.length && ks[i + 1]!.tS <= t) i++;
    const from = ks[i]!;
    const to = ks[i + 1];
    if (t <= from.tS || to === undefined) {
      out[k] = from.value;
      continue;
    }
    const h = to.tS - from.tS;
    const u = (t - from.tS) / h;
    const v0 = slope[i]! * h;
    const v1 = slope[i + 1]! * h;
    const b0 = (bend[i]! * h * h) / 2;
    const b1 = (bend[i + 1]! * h * h) / 2;
    const rise = to.value - from.value - v0 - b0;
    const c3 = 10 * rise - 4 * (v1 - v0 - 2 * b0) + (b1 - b0);
    const c4 = -15 * rise + 7 * (v1 - v0 - 2 * b0) - 2 * (b1 - b0);
    const c5 = 6 * rise - 3 * (v1 - v0 - 2 * b0) + (b1 - b0);
    out[k] = from.value + u * (v0 + u * (b0 + u * (c3 + u * (c4 + u * c5))));
  }
  return out;
}

function step(ks: readonly Knot[], i: number): [number, number] {
  const h = ks[i + 1]!.tS - ks[i]!.tS;
  return [h, (ks[i + 1]!.value - ks[i]!.value) / h];
}
