/** The scale at which recorded values become 16-bit counts: the one that they were made with, where that can be told. */
import { NANO } from '@ambipede/firmware-protocol';

/** What 16 bits with a sign hold. */
export const COUNTS_MIN = -32768;
export const COUNTS_MAX = 32767;
/**
 * Of the largest value: what is less counts as nothing. A remainder is known to about 1e-16 x 32768 x 32768 of it, and the
 * smallest step that 16 bits resolve is 30 times as much.
 */
const NOTHING = 1e-6;
/** Of a step: so close to whole counts all values have to be. */
const COUNT_WITHIN = 0.01;
/** A step this close to a whole number of the protocol's units is that number. */
const WHOLE_WITHIN = 1e-4;

/**
 * @param values in SI; none may be NaN
 * @returns SI units per count. Where all values are whole steps of one size, that size: they come back as they were.
 * Otherwise the range of the values over 32767 counts: each comes back to within half a step.
 */
export function scaleOf(values: readonly number[]): number {
  const most = values.reduce((max, value) => Math.max(max, value), 0);
  const least = values.reduce((min, value) => Math.min(min, value), 0);
  const reach = Math.max(most, -least);
  if (reach === 0) return NANO;
  const step = commonStep(values, reach);
  if (step === null || Math.round(most / step) > COUNTS_MAX || Math.round(least / step) < COUNTS_MIN)
    return reach / COUNTS_MAX;
  const scale = asOfDevice(refined(values, step));
  return values.every((value) => isWhole(value / scale)) ? scale : reach / COUNTS_MAX;
}

function isWhole(counts: number): boolean {
  return Math.abs(counts - Math.round(counts)) < COUNT_WITHIN;
}

/** The greatest common divisor of the values, by Euclid's algorithm; null where 16 bits cannot count in it. */
function commonStep(values: readonly number[], reach: number): number | null {
  let step = 0;
  for (const value of values) {
    const size = Math.abs(value);
    const next = divisorOf(step, size, reach * NOTHING);
    // Of a value with its many steps, one is known better than what the algorithm leaves: errors do not grow from value to value.
    if (next !== step) step = size / Math.max(1, Math.round(size / next));
    if (step > 0 && step < reach / -COUNTS_MIN / 2) return null;
  }
  return step;
}

function divisorOf(a: number, b: number, nothing: number): number {
  while (b > nothing) {
    const rest = a % b;
    // Just short of another whole one is a whole one.
    [a, b] = [b, b - rest < nothing ? 0 : rest];
  }
  return a;
}

/** Over all values, so that what rounding left in a few of them goes. */
function refined(values: readonly number[], step: number): number {
  let sum = 0;
  let counts = 0;
  for (const value of values) {
    sum += Math.abs(value);
    counts += Math.round(Math.abs(value) / step);
  }
  return sum / counts;
}

/** The scale of a device is a whole number of 1e-9 units, multiplied as the ingest does it: to the last bit. */
function asOfDevice(step: number): number {
  const whole = Math.round(step / NANO);
  return whole > 0 && Math.abs(step / NANO - whole) < WHOLE_WITHIN ? whole * NANO : step;
}
