/**
 * Dingenen et al. 2018 (Phys Ther Sport 33:40-47): a runner's mean is stable after 6.3 +- 0.3 steps, so seven a side are
 * the least for a conclusion.
 */
import type { Stance } from '@ambipede/shared';
import { STANCE_METRIC_KEYS } from '@ambipede/shared';
import { describe, expect, it } from 'vitest';
import { summariseAsymmetry } from '../../server/src/asymmetry/summary.ts';

function stances(side: 'left' | 'right', count: number, dropDeg: number): Stance[] {
  return Array.from({ length: count }, (_, i) => ({
    ...(Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, null])) as Record<
      (typeof STANCE_METRIC_KEYS)[number],
      null
    >),
    id: i,
    revision: 0,
    side,
    initialContact: i,
    toeOff: i + 0.25,
    sidePosterior: 1,
    gait: 'run' as const,
    swingSideDropDeg: dropDeg + 0.1 * Math.sin(i),
  }));
}

const dropOf = (left: number, right: number) =>
  summariseAsymmetry([...stances('left', left, 8), ...stances('right', right, 4)]).swingSideDropDeg!;

describe('no conclusion from fewer than seven stances a side', () => {
  it.each([
    { left: 6, right: 6, missing: { left: 1, right: 1 } },
    { left: 6, right: 40, missing: { left: 1, right: 0 } },
    { left: 40, right: 6, missing: { left: 0, right: 1 } },
    { left: 1, right: 7, missing: { left: 6, right: 0 } },
    { left: 7, right: 0, missing: { left: 0, right: 7 } },
  ])('says too few of $left left and $right right, and how many are missing', ({ left, right, missing }) => {
    const drop = dropOf(left, right);
    expect(drop.verdict).toBe('too few stances');
    expect(drop.missingStances).toEqual(missing);
  });

  it('concludes from seven and seven: 8 deg against 4 deg with a scatter of 0.1 deg is more than scatter', () => {
    const drop = dropOf(7, 7);
    expect(drop.verdict).toBe('more than scatter');
    expect(drop.missingStances).toEqual({ left: 0, right: 0 });
    expect(drop.difference).toBeCloseTo(4, 6);
  });

  it('counts only stances in which the metric was measured', () => {
    const some = [...stances('left', 7, 8), ...stances('right', 7, 4)];
    some[0] = { ...some[0]!, swingSideDropDeg: null };
    expect(summariseAsymmetry(some).swingSideDropDeg!.verdict).toBe('too few stances');
  });

  it('calls a metric nobody measured not measured', () => {
    expect(summariseAsymmetry(stances('left', 9, 8)).contactTimeS!.verdict).toBe('not measured');
  });
});
