/** Bland & Altman 1986, Lancet i:307-310: peak expiratory flow (l/min) of 17 people, two meters, each used twice. */
import { describe, expect, it } from 'vitest';
import { limitsOfAgreement, repeatabilityCoefficient } from '../../server/src/asymmetry/agreement.ts';

const WRIGHT_1 = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
const WRIGHT_2 = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421];
const MINI_1 = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
const MINI_2 = [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443];

describe('limits of agreement of the first readings', () => {
  const agreement = limitsOfAgreement(WRIGHT_1, MINI_1)!;

  it('have the bias and the SD of the paper (-2.1 and 38.8 l/min)', () => {
    expect(agreement.bias).toBeCloseTo(-2.11765, 5);
    expect(agreement.sd).toBeCloseTo(38.76513, 5);
  });

  // The paper takes 2 SD, rounded: -79.7 and 75.5 (from memory). The computed limits with 1.96 SD are -78.097 and 73.862.
  it('are those of the paper when 2 stands for 1.96', () => {
    expect(agreement.limits[0]).toBeCloseTo(-78.097, 3);
    expect(agreement.limits[1]).toBeCloseTo(73.862, 3);
    const wide = (sign: number): number => agreement.bias + sign * 2 * agreement.sd;
    expect(Math.abs(wide(-1) - -79.7)).toBeLessThan(0.1);
    expect(Math.abs(wide(1) - 75.5)).toBeLessThan(0.1);
  });

  // Paper's intervals with t = 2.12: bias -22.0 to 17.8, lower limit -114.3 to -45.1, upper 40.9 to 110.1 (2 SD; from
  // memory). The interval of a limit has the same width whichever factor is used.
  it('have intervals as in the paper', () => {
    expect(agreement.biasCi95[0]).toBeCloseTo(-22.05, 2);
    expect(agreement.biasCi95[1]).toBeCloseTo(17.81, 2);
    const half = ([low, high]: [number, number]): number => (high - low) / 2;
    for (const interval of [agreement.lowerLimitCi95, agreement.upperLimitCi95])
      expect(half(interval)).toBeCloseTo(2.1199 * 16.285, 2);
    const shift = 0.04 * agreement.sd;
    const printed = [-114.2, -45.1, 40.9, 109.9];
    const ours = [...agreement.lowerLimitCi95.map((v) => v - shift), ...agreement.upperLimitCi95.map((v) => v + shift)];
    ours.forEach((value, i) => expect(Math.abs(value - printed[i]!)).toBeLessThan(0.06));
  });
});

describe('the repeatability coefficient', () => {
  // 43.2 and 56.4 in the paper (from memory), 43.29 and 56.32 when computed without rounding between.
  it('is that of each meter', () => {
    expect(repeatabilityCoefficient(WRIGHT_1, WRIGHT_2)!).toBeCloseTo(43.29, 2);
    expect(repeatabilityCoefficient(MINI_1, MINI_2)!).toBeCloseTo(56.32, 2);
  });
});

describe('bad pairs', () => {
  it('gives nothing for too few and refuses unequal numbers', () => {
    expect(limitsOfAgreement([1], [2])).toBeNull();
    expect(repeatabilityCoefficient([], [])).toBeNull();
    expect(() => limitsOfAgreement([1, 2], [1])).toThrow(RangeError);
  });
});
