/** Intraclass correlations, SEM, minimal detectable change and typical error on the data of the papers that define them. */
import { describe, expect, it } from 'vitest';
import { detectableChange, PUBLISHED_CHANGE_OF_ONE_SIDE } from '../../server/src/asymmetry/baseline.ts';
import { meanOf, sdOf } from '../../server/src/asymmetry/moments.ts';
import {
  CHANGE_PER_SEM,
  reliabilityOf,
  typicalErrorOf,
  type IntraclassCorrelations,
} from '../../server/src/asymmetry/reliability.ts';

const FORMS: (keyof IntraclassCorrelations)[] = [
  'oneWaySingle',
  'twoWayRandomSingle',
  'twoWayMixedSingle',
  'oneWayMean',
  'twoWayRandomMean',
  'twoWayMixedMean',
];

function correlations(table: number[][]): number[] {
  const { icc } = reliabilityOf(table)!;
  return FORMS.map((form) => icc![form].value);
}

function expectEach(values: number[], expected: number[], decimals: number): void {
  values.forEach((value, i) =>
    expect(Math.abs(value - expected[i]!), FORMS[i]).toBeLessThanOrEqual(0.5 * 10 ** -decimals + 1e-12),
  );
}

// Shrout & Fleiss 1979, Psychol Bull 86:420-428, Table 2: six targets, four judges.
const SHROUT_FLEISS = [
  [9, 2, 5, 8],
  [6, 1, 3, 2],
  [8, 4, 6, 8],
  [7, 1, 2, 6],
  [10, 5, 6, 9],
  [6, 2, 4, 7],
];

describe('Shrout & Fleiss 1979', () => {
  it('gives the six printed intraclass correlations', () => {
    expectEach(correlations(SHROUT_FLEISS), [0.17, 0.29, 0.71, 0.44, 0.62, 0.91], 2);
  });

  it('gives them to six digits, and the mean squares, as computed from the formulas', () => {
    expectEach(correlations(SHROUT_FLEISS), [0.165742, 0.289764, 0.714841, 0.442797, 0.620051, 0.909316], 6);
    const { athletes, within, sessions, error } = reliabilityOf(SHROUT_FLEISS)!.meanSquares;
    expectEach([athletes, within, sessions, error], [11.241667, 6.263889, 32.486111, 1.019444], 6);
  });

  // The limits that general statistics software prints for these data; from memory.
  it('gives the intervals', () => {
    const { icc } = reliabilityOf(SHROUT_FLEISS)!;
    expectEach(
      FORMS.map((form) => icc![form].ci95[0]),
      [-0.13, 0.02, 0.34, -0.88, 0.07, 0.68],
      2,
    );
    expectEach(
      FORMS.map((form) => icc![form].ci95[1]),
      [0.72, 0.76, 0.95, 0.91, 0.93, 0.99],
      2,
    );
  });
});

// McGraw & Wong 1996, Psychol Methods 1:30-46, Table 6; intervals as printed by R's DescTools::ICC in a public listing.
describe('McGraw & Wong 1996', () => {
  const TWINS = [
    [103, 119],
    [82, 65],
    [116, 106],
    [102, 102],
    [99, 105],
    [98, 100],
    [104, 107],
    [62, 85],
    [97, 101],
    [107, 110],
  ];
  const { icc } = reliabilityOf(TWINS)!;

  it('gives the printed correlations', () => {
    expectEach(correlations(TWINS), [0.722, 0.72, 0.714, 0.838, 0.837, 0.833], 3);
  });

  it('gives the printed intervals', () => {
    expectEach(
      FORMS.map((form) => icc![form].ci95[0]),
      [0.241, 0.228, 0.197, 0.389, 0.371, 0.329],
      3,
    );
    expectEach(
      FORMS.map((form) => icc![form].ci95[1]),
      [0.922, 0.922, 0.92, 0.959, 0.959, 0.959],
      3,
    );
  });
});

// Weir 2005, J Strength Cond Res 19:231-240. Set A as printed; the values of set B are from memory, but its means and its
// differences are those of set A, which is the paper's point: same error, less spread between the subjects.
describe('Weir 2005', () => {
  const A1 = [146, 148, 170, 90, 157, 156, 176, 205];
  const A2 = [140, 152, 152, 99, 145, 153, 167, 218];
  const B1 = [166, 168, 160, 150, 147, 146, 156, 155];
  const B2 = [160, 172, 142, 159, 135, 143, 147, 168];
  const rows = (first: number[], second: number[]): number[][] => first.map((v, i) => [v, second[i]!]);
  const a = reliabilityOf(rows(A1, A2))!;
  const b = reliabilityOf(rows(B1, B2))!;

  it('gives the printed mean squares of set A', () => {
    expect(Math.round(a.meanSquares.athletes)).toBe(2099);
    expect(a.meanSquares.sessions).toBeCloseTo(30.25, 8);
    expect(a.meanSquares.error).toBeCloseTo(57.1, 1);
  });

  it('gives one SEM and one minimal detectable change for both sets, though their correlations differ', () => {
    for (const set of [a, b]) {
      expect(set.sem.value).toBeCloseTo(7.5569, 4);
      expect(set.minimalDetectableChange.value).toBeCloseTo(20.9467, 4);
    }
    expectEach(correlations(rows(A1, A2)), [0.950053, 0.949975, 0.947016, 0.974387, 0.974346, 0.972787], 6);
    expectEach(correlations(rows(B1, B2)), [0.55891, 0.552749, 0.537728, 0.717052, 0.711962, 0.69938], 6);
  });

  it('does not set the negative variance of the sessions to zero, nor take SD sqrt(1 - ICC) for the SEM', () => {
    expect(a.meanSquares.sessions).toBeLessThan(a.meanSquares.error);
    const pooled = Math.sqrt((sdOf(A1) ** 2 + sdOf(A2) ** 2) / 2);
    const other = pooled * Math.sqrt(1 - a.icc!.twoWayRandomSingle.value);
    expect(Math.abs(other - a.sem.value)).toBeGreaterThan(0.2);
  });

  // Hopkins 2000, Sports Med 30:1-15: with two trials it is the same number.
  it('has the SEM as its typical error, with the same interval', () => {
    const typical = typicalErrorOf(A1, A2)!;
    expect(typical.value).toBeCloseTo(a.sem.value, 10);
    typical.ci95.forEach((bound, i) => expect(bound).toBeCloseTo(a.sem.ci95[i]!, 10));
    expect(meanOf(A1) - meanOf(A2)).toBeCloseTo(2.75, 10);
  });
});

describe('bad tables', () => {
  it('gives nothing with fewer than two athletes or sessions, and no correlation where nothing differs', () => {
    expect(reliabilityOf([])).toBeNull();
    expect(reliabilityOf([[1, 2]])).toBeNull();
    expect(reliabilityOf([[1], [2]])).toBeNull();
    expect(typicalErrorOf([1], [2])).toBeNull();
    expect(
      reliabilityOf([
        [3, 3],
        [3, 3],
      ])!.icc,
    ).toBeNull();
  });

  it('refuses missing and unequal values', () => {
    expect(() => reliabilityOf([[1, 2], [3]])).toThrow(RangeError);
    expect(() =>
      reliabilityOf([
        [1, 2],
        [3, NaN],
      ]),
    ).toThrow(RangeError);
    expect(() => typicalErrorOf([1, 2], [3])).toThrow(RangeError);
  });
});

// Dingenen et al. 2018, Phys Ther Sport 33:40-47: smallest detectable differences 2.7 to 2.8 deg (pelvic drop) and 1.3 to
// 2.3 deg (trunk); the larger ones stand in. An SDD of 2.7 is an SEM of 0.97.
describe('published defaults', () => {
  it('are the larger end of the printed ranges', () => {
    expect(PUBLISHED_CHANGE_OF_ONE_SIDE.swingSideDropDeg!.change).toBe(2.8);
    expect(PUBLISHED_CHANGE_OF_ONE_SIDE.leanToStancePeakDeg!.change).toBe(2.3);
    expect(0.97 * CHANGE_PER_SEM).toBeCloseTo(2.7, 1);
  });

  it('stand in only while the athlete has too few sessions, and say so', () => {
    const none = detectableChange('swingSideDropDeg', [1.2, 0.8]);
    expect(none).toMatchObject({ basis: 'published default', missingSessions: 1 });
    expect(none.change).toBeCloseTo(2.8 * Math.SQRT2, 10);
    expect(detectableChange('contactTimeS', [])).toEqual({ basis: 'none', change: null, missingSessions: 3 });
    const own = detectableChange('swingSideDropDeg', [1, 2, 3]);
    // SD 1, t of 2 degrees of freedom 4.303 (NIST).
    expect(own.basis).toBe('own sessions');
    expect(own.change).toBeCloseTo(4.3027 * Math.SQRT2, 3);
  });
});
