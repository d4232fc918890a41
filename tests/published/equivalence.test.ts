/**
 * Two one-sided tests on worked examples. The examples are given as mean, SD and n; a made-up sample with exactly these
 * stands for them.
 */
import { describe, expect, it } from 'vitest';
import { equivalenceOfSessions, equivalenceOfStances } from '../../server/src/asymmetry/equivalence.ts';
import { studentTUpperTail } from '../../server/src/asymmetry/quantiles.ts';

/** n values with exactly this mean and sample SD: half of them below, half above, for odd n one in the middle. */
function sampleOf(n: number, mean: number, sd: number): number[] {
  const half = Math.floor(n / 2);
  const reach = sd * Math.sqrt((n - 1) / (2 * half));
  return Array.from({ length: n }, (_, i) => mean + (i < half ? -reach : i < 2 * half ? reach : 0));
}

describe('a mean of 0.52 against 0.5 +- 0.1 (SD 0.5, n 300; the example in the documentation of R’s TOSTER)', () => {
  const answer = equivalenceOfSessions(sampleOf(300, 0.02, 0.5), 0.1);

  // scipy 1.17.1: stats.t.cdf((0.02 - 0.1) / se, 299), se = 0.5 / sqrt(300), and 0.02 -+ stats.t.ppf(0.95, 299) * se.
  it('lies within, with the p and the 90 % interval of scipy', () => {
    expect(answer.answer).toBe('within');
    expect(answer.p!).toBeCloseTo(0.002966761875505435, 10);
    expect(answer.ci90![0]).toBeCloseTo(-0.027630408998864646, 10);
    expect(answer.ci90![1]).toBeCloseTo(0.06763040899886469, 10);
  });
});

// Moery & Calin-Jageman 2016, as worked in the vignette of R's TOSTER: means 5.25 (SD 0.95, n 95) and 5.22 (0.83, n 89),
// limit 0.384, equal variances: t(182) = -2.69, p = 0.004, "within".
describe('5.25 against 5.22 with the limit 0.384', () => {
  const pooled = Math.sqrt((94 * 0.95 ** 2 + 88 * 0.83 ** 2) / 182);
  const standardError = pooled * Math.sqrt(1 / 95 + 1 / 89);

  const differences = sampleOf(183, 0.03, standardError * Math.sqrt(183));

  it('has the printed p', () => {
    const answer = equivalenceOfSessions(differences, 0.384);
    expect(answer.answer).toBe('within');
    expect(answer.p!.toFixed(3)).toBe('0.004');
  });

  it('has the printed t for the limit as the vignette gives it too, 0.43 pooled standard deviations', () => {
    const { p } = equivalenceOfSessions(differences, 0.43 * pooled);
    expect(p!).toBeLessThan(studentTUpperTail(2.685, 182));
    expect(p!).toBeGreaterThan(studentTUpperTail(2.695, 182));
  });
});

describe('the three answers', () => {
  const noise = [0.2, -0.1, 0.1, -0.2, 0.05, -0.15, 0.1, 0, -0.05, 0.05];
  const about = (mean: number, scale = 1): number[] => noise.map((v) => mean + scale * v);
  const mirrored = about(0).map((v) => -v);

  it('are within, outside on either side, and cannot tell yet', () => {
    expect(equivalenceOfStances(about(0), mirrored, 1)).toMatchObject({ answer: 'within', more: null });
    expect(equivalenceOfStances(about(3), mirrored, 1)).toMatchObject({ answer: 'outside', more: null });
    expect(equivalenceOfStances(about(-3), mirrored, 1).answer).toBe('outside');
    expect(equivalenceOfStances(about(1), mirrored, 1).answer).toBe('cannot tell yet');
  });

  it('does not take "not significantly different" for "within": no difference, but a scatter of many limits', () => {
    const wide = equivalenceOfStances(about(0, 60), mirrored, 1);
    expect(wide.ci90![0]).toBeLessThan(0);
    expect(wide.ci90![1]).toBeGreaterThan(0);
    expect(wide.answer).toBe('cannot tell yet');
    expect(wide.more).toMatchObject({ unit: 'stances a side', reason: 'estimate' });
    expect(wide.more!.count).toBeGreaterThan(0);
  });

  it('says that today’s difference is too close to the limit for stances to help', () => {
    expect(equivalenceOfStances(about(1.0001), mirrored, 1).more).toMatchObject({
      count: null,
      reason: 'too close to the limit',
    });
  });

  it('cannot tell when the zero of the sensors is too uncertain, and says that more stances do not help', () => {
    const answer = equivalenceOfStances(about(0), mirrored, 1, 1.5);
    expect(answer.answer).toBe('cannot tell yet');
    expect(answer.more).toEqual({ unit: 'stances a side', count: null, reason: 'zero too uncertain' });
  });

  it.each([0, 1, 2, 6])('says how many are missing with %d stances a side', (n) => {
    const answer = equivalenceOfStances(about(0).slice(0, n), mirrored, 1);
    expect(answer.answer).toBe('cannot tell yet');
    expect(answer.more).toEqual({ unit: 'stances a side', count: 7 - n, reason: 'least number' });
  });

  it.each([0, 1, 2])('says how many are missing with %d sessions', (n) => {
    const answer = equivalenceOfSessions([0.1, 0.1, 0.1].slice(0, n), 1);
    expect(answer).toMatchObject({ answer: 'cannot tell yet', more: { unit: 'sessions', count: 3 - n } });
  });

  it('refuses a limit that is not above 0', () => {
    for (const limit of [0, -1, NaN]) {
      expect(() => equivalenceOfStances(about(0), mirrored, limit)).toThrow(RangeError);
      expect(() => equivalenceOfSessions(about(0), limit)).toThrow(RangeError);
    }
  });
});
