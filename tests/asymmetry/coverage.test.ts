/**
 * Intervals cover what they promise, and tests err no more often, on simulated athletes whose truth is known. Few repeats
 * here; tests/bench/coverage.ts is the long version. The room for chance is four standard errors of the simulated share.
 */
import { describe, expect, it } from 'vitest';
import { baselineOf, detectableChange } from '../../server/src/asymmetry/baseline.ts';
import { differenceWithInterval } from '../../server/src/asymmetry/difference.ts';
import { equivalenceOfSessions, equivalenceOfStances } from '../../server/src/asymmetry/equivalence.ts';
import { testAgainstScatter } from '../../server/src/asymmetry/step-scatter.ts';
import { trendOf } from '../../server/src/asymmetry/trend.ts';
import { chanceOf, drawOf, serialValues, shareOf } from './simulate.ts';

const REPEATS = 300;
const SLACK = chanceOf(0.95, REPEATS);

const plus = (values: number[], shift: number): number[] => values.map((v) => v + shift);

describe('the 95 % interval of left - right', () => {
  it.each(
    [0, 0.3, 0.6].flatMap((phi) => [
      { phi, left: 10, right: 10, shape: 'normal' as const },
      { phi, left: 20, right: 20, shape: 'skewed' as const },
      { phi, left: 40, right: 40, shape: 'normal' as const },
      { phi, left: 10, right: 40, shape: 'skewed' as const },
    ]),
  )('covers 93 to 97 %: correlation $phi, $left and $right stances, $shape', ({ phi, left, right, shape }) => {
    const draw = drawOf(71, shape);
    const truth = 1.7;
    const covered = shareOf(REPEATS, () => {
      const { ci95 } = differenceWithInterval(
        plus(serialValues(draw, left, phi), truth),
        serialValues(draw, right, phi),
      )!;
      return ci95[0] <= truth && truth <= ci95[1];
    });
    expect(covered).toBeGreaterThan(0.93 - SLACK);
    expect(covered).toBeLessThan(0.97 + SLACK);
  });
});

describe('a symmetric athlete', () => {
  it.each([0, 0.3, 0.6])('is called different in at most 5 %% of sessions of 12 stances: correlation %d', (phi) => {
    const draw = drawOf(72);
    const alarms = shareOf(
      REPEATS,
      () => testAgainstScatter(serialValues(draw, 12, phi), serialValues(draw, 12, phi))!.isMoreThanScatter,
    );
    expect(alarms).toBeLessThan(0.05 + SLACK);
  });

  it('differs by less than one SD in every one of them, and an athlete who differs by two is found', () => {
    const draw = drawOf(73);
    const found = shareOf(REPEATS, () => {
      const test = testAgainstScatter(plus(serialValues(draw, 20, 0.3), 2), serialValues(draw, 20, 0.3))!;
      return test.isMoreThanScatter && test.isLargerThanOneSd;
    });
    expect(found).toBeGreaterThan(0.9);
    const none = testAgainstScatter(serialValues(draw, 40, 0), serialValues(draw, 40, 0))!;
    expect(none.isLargerThanOneSd).toBe(false);
    expect(testAgainstScatter(serialValues(draw, 6, 0), serialValues(draw, 40, 0))).toBeNull();
  });
});

describe('two one-sided tests', () => {
  const share = (answer: string, truth: number, phi: number, seed: number, n = 20): number => {
    const draw = drawOf(seed);
    return shareOf(REPEATS, () => {
      const left = plus(serialValues(draw, n, phi), truth);
      return equivalenceOfStances(left, serialValues(draw, n, phi), 1).answer === answer;
    });
  };

  it.each([0, 0.6])('say within, or outside, in at most 5 %% when the truth is the limit: correlation %d', (phi) => {
    expect(share('within', 1, phi, 74)).toBeLessThan(0.05 + SLACK);
    expect(share('outside', 1, phi, 74)).toBeLessThan(0.05 + SLACK);
  });

  it('find what is well within and well outside', () => {
    expect(share('within', 0, 0, 75, 40)).toBeGreaterThan(0.8);
    expect(share('outside', 2, 0, 75, 40)).toBeGreaterThan(0.8);
  });

  it('hold over sessions too', () => {
    const draw = drawOf(76);
    const wrong = shareOf(
      REPEATS,
      () => equivalenceOfSessions(plus(serialValues(draw, 4, 0), 1), 1).answer === 'within',
    );
    expect(wrong).toBeLessThan(0.05 + SLACK);
  });

  // Textbook totals for independent values: SD sqrt(2) / n^0.5 (1 / n^0.5 for sessions) times (1.645 + 0.842) = room.
  it.each([
    { unit: 'stances', truth: 0.3, textbook: 26 },
    { unit: 'stances', truth: 2, textbook: 13 },
    { unit: 'sessions', truth: 0.3, textbook: 13 },
  ])(
    'ask for enough $unit for an answer in four of five, and not for four times the textbook number: difference $truth',
    ({ unit, truth, textbook }) => {
      const draw = drawOf(77);
      const n = unit === 'stances' ? 8 : 4;
      const ask = (size: number) => {
        const left = plus(serialValues(draw, size, 0), truth);
        return unit === 'stances'
          ? equivalenceOfStances(left, serialValues(draw, size, 0), 1)
          : equivalenceOfSessions(left, 1);
      };
      const counts: number[] = [];
      while (counts.length < 101) {
        const { more } = ask(n);
        if (more?.count != null) counts.push(more.count);
      }
      const total = n + counts.sort((a, b) => a - b)[50]!;
      expect(total).toBeGreaterThan(textbook / 2);
      expect(total).toBeLessThan(4 * textbook);
      const answered = shareOf(200, () => ask(total).answer === (truth < 1 ? 'within' : 'outside'));
      expect(answered).toBeGreaterThan(0.8 - chanceOf(0.8, 200));
    },
  );
});

describe('over sessions without a change', () => {
  it.each([3, 5, 10])('the band and the detectable change hold 95 %% after %d sessions', (n) => {
    const draw = drawOf(78);
    let [inBand, inChange] = [0, 0];
    for (let i = 0; i < 4 * REPEATS; i += 1) {
      const all = serialValues(draw, n + 2, 0);
      const own = all.slice(0, n);
      const { band } = baselineOf(own)!;
      if (all[n]! >= band[0] && all[n]! <= band[1]) inBand += 1;
      if (Math.abs(all[n]! - all[n + 1]!) <= detectableChange('contactTimeS', own).change!) inChange += 1;
    }
    for (const count of [inBand, inChange])
      expect(Math.abs(count / (4 * REPEATS) - 0.95)).toBeLessThan(chanceOf(0.95, 4 * REPEATS));
    expect(baselineOf([1, 2])).toBeNull();
  });

  it.each([
    { n: 5, shape: 'normal' as const },
    { n: 8, shape: 'skewed' as const },
    { n: 16, shape: 'very skewed' as const },
  ])('the interval of the trend covers what it says: $n sessions, $shape', ({ n, shape }) => {
    const draw = drawOf(79, shape);
    const slope = -0.02;
    let promised = 0;
    const covered = shareOf(2 * REPEATS, () => {
      const values = serialValues(draw, n, 0).map((v, i) => ({ day: i * i, value: v + slope * i * i }));
      const trend = trendOf(values);
      if (trend.state === 'too few sessions') return false;
      promised = trend.coverage;
      return trend.ci95[0] <= slope && slope <= trend.ci95[1];
    });
    expect(promised).toBeGreaterThanOrEqual(0.95);
    expect(Math.abs(covered - promised)).toBeLessThan(chanceOf(promised, 2 * REPEATS));
  });
});
