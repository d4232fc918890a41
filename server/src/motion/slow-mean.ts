/**
 * A second-order low-pass over several channels that begins as a plain running mean, so that it settles at once instead
 * of ringing in from zero (as in Laidig & Seel 2023, section on filter initialisation).
 */
import { butterworthLowPass, type LowPass } from '../signal/butterworth.ts';

export interface SlowMeanCoefficients {
  readonly filter: LowPass;
  readonly settleSamples: number;
}

export interface SlowMean {
  count: number;
  /** One value per channel, put here before each step. */
  input: Float64Array;
  mean: Float64Array;
  /** x1, x2, y1, y2 per channel. */
  memory: Float64Array;
}

/** @param timeConstantS the low-pass has the cut-off sqrt(2) / (2 pi timeConstantS). */
export function slowMeanCoefficients(rateHz: number, timeConstantS: number): SlowMeanCoefficients {
  return {
    filter: butterworthLowPass(rateHz, Math.SQRT2 / (2 * Math.PI * timeConstantS)),
    settleSamples: timeConstantS * rateHz,
  };
}

export function startSlowMean(channels: number): SlowMean {
  return {
    count: 0,
    input: new Float64Array(channels),
    mean: new Float64Array(channels),
    memory: new Float64Array(channels * 4),
  };
}

export function isSettled(coefficients: SlowMeanCoefficients, slow: SlowMean): boolean {
  return slow.count > 2 * coefficients.settleSamples;
}

/** Takes the values in `slow.input`; the result is in `slow.mean`. */
export function stepSlowMean(coefficients: SlowMeanCoefficients, slow: SlowMean): void {
  slow.count += 1;
  const { input, mean, memory } = slow;
  const { a0, a1, a2, b1, b2 } = coefficients.filter;
  const isStarting = slow.count <= coefficients.settleSamples;
  for (let c = 0; c < mean.length; c += 1) {
    const x = input[c]!;
    const m = c * 4;
    if (isStarting) {
      const y = mean[c]! + (x - mean[c]!) / slow.count;
      mean[c] = y;
      // Handed over as if the filter had rested at the mean.
      memory.fill(y, m, m + 4);
      continue;
    }
    const y = a0 * x + a1 * memory[m]! + a2 * memory[m + 1]! + b1 * memory[m + 2]! + b2 * memory[m + 3]!;
    memory[m + 1] = memory[m]!;
    memory[m] = x;
    memory[m + 3] = memory[m + 2]!;
    memory[m + 2] = y;
    mean[c] = y;
  }
}
