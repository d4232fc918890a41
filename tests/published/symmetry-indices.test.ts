/**
 * The worked table of symmetry measures in Int J Phys Med Rehabil 2014, 2:201, Table 1: step lengths (m) of six invented
 * people, A and B. Its rows for the symmetry index and the shares are positive when A is the larger, its row for the
 * symmetry angle when B is; ours are all positive when the first (left) is the larger.
 */
import { describe, expect, it } from 'vitest';
import {
  indexOfMetric,
  limbSymmetryPercent,
  shareOfLargerPercent,
  shareOfSumPercent,
  sideRatio,
  symmetryAnglePercent,
  symmetryIndexPercent,
  type Index,
  type IndexFormula,
} from '../../server/src/asymmetry/indices.ts';

const A = [0.39, 0.59, 0.47, 0.25, 0.4, 0.37];
const B = [0.25, 0.4, 0.37, 0.39, 0.59, 0.47];

function valueOf(index: Index): number {
  if (index.refused !== null) throw new Error(`refused: ${index.refused}`);
  return index.value;
}

interface Row {
  name: string;
  formula: (a: number, b: number) => number;
  printed: number[];
  printedMean: number;
  isOddUnderSwap: boolean;
}

const of =
  (formula: IndexFormula, sign = 1) =>
  (a: number, b: number): number =>
    sign * valueOf(formula(a, b));

const ROWS: Row[] = [
  {
    name: 'A / B',
    formula: of(sideRatio),
    printed: [1.56, 1.48, 1.27, 0.64, 0.68, 0.79],
    printedMean: 1.07,
    isOddUnderSwap: false,
  },
  {
    name: '100 (A - B) / A, which is 100 - limb symmetry index',
    formula: (a, b) => 100 - valueOf(limbSymmetryPercent(b, a)),
    printed: [35.9, 32.2, 21.28, -56, -47.5, -27.03],
    printedMean: -6.86,
    isOddUnderSwap: false,
  },
  {
    name: '100 (A - B) / max',
    formula: of(shareOfLargerPercent),
    printed: [35.9, 32.2, 21.28, -35.9, -32.2, -21.28],
    printedMean: 0,
    isOddUnderSwap: true,
  },
  {
    name: 'symmetry index',
    formula: of(symmetryIndexPercent),
    printed: [43.75, 38.38, 23.81, -43.75, -38.38, -23.81],
    printedMean: 0,
    isOddUnderSwap: true,
  },
  {
    name: '100 (A - B) / (A + B)',
    formula: of(shareOfSumPercent),
    printed: [21.88, 19.19, 11.9, -21.88, -19.19, -11.9],
    printedMean: 0,
    isOddUnderSwap: true,
  },
  {
    name: 'symmetry angle',
    formula: of(symmetryAnglePercent, -1),
    printed: [-13.71, -12.07, -7.54, 13.71, 12.07, 7.54],
    printedMean: 0,
    isOddUnderSwap: true,
  },
];

/** Half a unit of the last printed decimal, and a little for halves (21.875). */
const ROUNDING = 0.005 + 1e-9;

describe('percent indices on the worked table', () => {
  for (const row of ROWS) {
    const values = A.map((a, i) => row.formula(a, B[i]!));

    it(`gives every printed cell and the mean of ${row.name}`, () => {
      values.forEach((value, i) => expect(Math.abs(value - row.printed[i]!)).toBeLessThanOrEqual(ROUNDING));
      const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
      expect(Math.abs(mean - row.printedMean)).toBeLessThanOrEqual(ROUNDING);
    });

    it(`${row.isOddUnderSwap ? 'changes only the sign' : 'is not odd'} when the sides are swapped: ${row.name}`, () => {
      const isOdd = values.every((value, i) => Math.abs(value + row.formula(B[i]!, A[i]!)) < 1e-9);
      expect(isOdd).toBe(row.isOddUnderSwap);
    });
  }
});

// Computed from the formulas: "10 %" is not the same limit in each measure.
describe('conversions between indices', () => {
  it.each([
    { left: 1.1, right: 1, index: 9.52, angle: 3.03 },
    { left: 0.9, right: 1, index: -10.53, angle: -3.35 },
    { left: 0.85, right: 1, index: -16.22, angle: -5.15 },
  ])('gives symmetry index $index % and symmetry angle $angle % for $left against $right', (row) => {
    expect(valueOf(symmetryIndexPercent(row.left, row.right))).toBeCloseTo(row.index, 2);
    expect(valueOf(symmetryAnglePercent(row.left, row.right))).toBeCloseTo(row.angle, 2);
  });
});

describe('what has no percent index', () => {
  const formulas: [string, IndexFormula][] = [
    ['symmetry index', symmetryIndexPercent],
    ['symmetry angle', symmetryAnglePercent],
    ['share of the larger', shareOfLargerPercent],
    ['share of the sum', shareOfSumPercent],
    ['ratio', sideRatio],
    ['limb symmetry', limbSymmetryPercent],
  ];

  it.each(formulas)('refuses +2.0 against -1.9 (a bare symmetry index would say 7800 %%): %s', (_, formula) => {
    expect((100 * (2 - -1.9)) / (0.5 * (2 + -1.9))).toBeCloseTo(7800, 6);
    expect(formula(2, -1.9)).toEqual({ value: null, refused: 'not above zero' });
    expect(formula(-1.9, 2)).toEqual({ value: null, refused: 'not above zero' });
  });

  it.each(formulas)('refuses zeros, two negatives and what is not a finite number: %s', (_, formula) => {
    for (const [a, b] of [
      [0, 0],
      [0, 1],
      [1, 0],
      [-1, -2],
    ] as const)
      expect(formula(a, b).refused).toBe('not above zero');
    for (const bad of [NaN, Infinity, -Infinity]) {
      expect(formula(bad, 1)).toEqual({ value: null, refused: 'not a finite number' });
      expect(formula(1, bad)).toEqual({ value: null, refused: 'not a finite number' });
    }
  });

  it('refuses an angle measured from level even where both values are positive, and takes a time or a range', () => {
    for (const key of ['swingSideDropDeg', 'leanToStanceMeanDeg', 'obliquityAtContactDeg'] as const) {
      expect(indexOfMetric(key, symmetryIndexPercent, 2, 1.9)).toEqual({ value: null, refused: 'not a ratio scale' });
    }
    for (const key of ['contactTimeS', 'obliquityExcursionDeg'] as const) {
      expect(indexOfMetric(key, symmetryIndexPercent, 0.26, 0.24)).toEqual(symmetryIndexPercent(0.26, 0.24));
    }
  });
});
