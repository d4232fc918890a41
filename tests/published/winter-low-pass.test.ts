/**
 * Winter, Biomechanics and Motor Control of Human Movement, eq. 2.19: the second-order Butterworth low-pass. The worked
 * coefficients at 60 Hz are printed there; those of the dual pass are computed from the same formulas with his correction
 * C = (2^(1/n) - 1)^0.25 (C and its value for n = 2 from memory, confirmed below by the gain).
 */
import { describe, expect, it } from 'vitest';
import { butterworthLowPass, type LowPass } from '../../server/src/signal/butterworth.ts';

/** |H| at a frequency: y[n] = a0 x[n] + a1 x[n-1] + a2 x[n-2] + b1 y[n-1] + b2 y[n-2]. */
function gain({ a0, a1, a2, b1, b2 }: LowPass, hz: number, rateHz: number): number {
  const w = (2 * Math.PI * hz) / rateHz;
  const size = (c0: number, c1: number, c2: number): number =>
    Math.hypot(c0 + c1 * Math.cos(w) + c2 * Math.cos(2 * w), c1 * Math.sin(w) + c2 * Math.sin(2 * w));
  return size(a0, a1, a2) / size(1, -b1, -b2);
}

describe('the low-pass of Winter', () => {
  it('has the printed coefficients at 60 samples a second and 6 Hz', () => {
    const { a0, a1, a2, b1, b2 } = butterworthLowPass(60, 6);
    expect(a0).toBeCloseTo(0.067455, 6);
    expect(a1).toBeCloseTo(0.13491, 5);
    expect(a2).toBeCloseTo(0.067455, 6);
    expect(b1).toBeCloseTo(1.14298, 5);
    expect(b2).toBeCloseTo(-0.4128, 5);
    expect(a0 + a1 + a2 + b1 + b2).toBeCloseTo(1, 12);
  });

  it.each([
    { rateHz: 100, cutoffHz: 6, a0: 0.040595, b1: 1.354749, b2: -0.517128 },
    { rateHz: 100, cutoffHz: 10, a0: 0.094447, b1: 0.962641, b2: -0.340428 },
    { rateHz: 200, cutoffHz: 10, a0: 0.029569, b1: 1.458104, b2: -0.57638 },
  ])('has the coefficients of a dual pass at $rateHz samples a second and $cutoffHz Hz', (row) => {
    const filter = butterworthLowPass(row.rateHz, row.cutoffHz, 2);
    expect(filter.a0).toBeCloseTo(row.a0, 6);
    expect(filter.a1).toBeCloseTo(2 * row.a0, 5);
    expect(filter.a2).toBeCloseTo(row.a0, 6);
    expect(filter.b1).toBeCloseTo(row.b1, 6);
    expect(filter.b2).toBeCloseTo(row.b2, 6);
  });

  it('leaves 0.7071 of the amplitude at the cut-off: in one pass, and in two with the correction', () => {
    expect(gain(butterworthLowPass(60, 6), 6, 60)).toBeCloseTo(0.7071, 4);
    for (const [rateHz, cutoffHz] of [
      [100, 6],
      [100, 10],
      [200, 10],
    ] as const) {
      expect(gain(butterworthLowPass(rateHz, cutoffHz, 2), cutoffHz, rateHz) ** 2).toBeCloseTo(0.7071, 4);
    }
  });

  it('would leave a half in two passes without the correction, and passes a constant unchanged', () => {
    expect(gain(butterworthLowPass(60, 6), 6, 60) ** 2).toBeCloseTo(0.5, 10);
    expect(gain(butterworthLowPass(200, 8, 2), 0, 200)).toBeCloseTo(1, 12);
  });

  it('refuses a cut-off at or beyond half the sample rate, at or below zero, and one that is not a number', () => {
    for (const cutoffHz of [30, 31, 0, -1, NaN]) expect(() => butterworthLowPass(60, cutoffHz)).toThrow(RangeError);
    expect(() => butterworthLowPass(60, 29.9)).not.toThrow();
  });
});
