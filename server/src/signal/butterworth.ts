/**
 * Second-order low-pass filters after Winter (Biomechanics and Motor Control of Human Movement, eq. 2.19): feedback terms
 * are ADDED. `pass` corrects the cut-off when the filter is run n times (forwards and backwards: 2).
 */
export interface LowPass {
  readonly a0: number;
  readonly a1: number;
  readonly a2: number;
  readonly b1: number;
  readonly b2: number;
}

/**
 * @param cutoffHz frequency where one pass (or `passes` passes together) leaves 0.7071 of the amplitude
 * @throws RangeError unless 0 < cutoffHz < rateHz / 2
 */
export function butterworthLowPass(rateHz: number, cutoffHz: number, passes = 1): LowPass {
  if (!(cutoffHz > 0 && cutoffHz < rateHz / 2)) {
    throw new RangeError(
      `The cut-off must lie between 0 and half the sample rate (${rateHz / 2} Hz), not ${cutoffHz} Hz.`,
    );
  }
  const correction = (2 ** (1 / passes) - 1) ** 0.25;
  const wc = Math.tan((Math.PI * cutoffHz) / rateHz) / correction;
  const k1 = Math.SQRT2 * wc;
  const k2 = wc * wc;
  const a0 = k2 / (1 + k1 + k2);
  const k3 = (2 * a0) / k2;
  return { a0, a1: 2 * a0, a2: a0, b1: -2 * a0 + k3, b2: 1 - 2 * a0 - k3 };
}
