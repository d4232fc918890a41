/** Where a value is drawn. Both sides of the plumb line share one scale; a difference has its own, centred on the line. */

/** `low` is drawn at the plumb line, `high` at the outer edge, on both sides. */
export interface PairScale {
  low: number;
  high: number;
}

/** Ends of a scale that are soon read; the next is at most half as much again, so that little of the width stays empty. */
const ROUND = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10] as const;

/** Smallest of these times a power of ten that is not below `value`; 1 for nothing. */
export function roundUp(value: number): number {
  if (!(value > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(value));
  const step = ROUND.find((factor) => factor * power >= value * (1 - 1e-9)) ?? 10;
  // Powers below one are not exact: the product is rounded to what a person reads.
  return Number((step * power).toPrecision(3));
}

/** Zero sits at the plumb line unless a value is negative; then it moves out by as much on both sides. */
export function pairScale(values: readonly (number | null)[]): PairScale {
  const known = values.filter((value): value is number => value !== null);
  const low = Math.min(0, ...known);
  const high = Math.max(0, ...known);
  return { low: low < 0 ? -roundUp(-low) : 0, high: high > 0 ? roundUp(high) : low < 0 ? 0 : 1 };
}

/** 0 at the plumb line, 1 at the outer edge. */
export function outward(value: number, scale: PairScale): number {
  return Math.min(1, Math.max(0, (value - scale.low) / (scale.high - scale.low)));
}

/** Half-width of a difference scale that holds all `values`. */
export function differenceReach(values: readonly (number | null | undefined)[]): number {
  return roundUp(Math.max(0, ...values.map((value) => Math.abs(value ?? 0))));
}

/** Percent from the left edge: more on the left is drawn to the left. */
export function differencePercent(value: number, reach: number): number {
  return 50 - (Math.min(reach, Math.max(-reach, value)) / reach) * 50;
}
