/** BIOMECHANICS 4: gaps up to 50 ms are interpolated and flagged, a longer one breaks what it touches. */
import { describe, expect, it } from 'vitest';
import { GAP_FILLED_S_MAX, startRegularise, stepRegularise } from '../../server/src/motion/regularise.ts';
import type { ImuSample } from '../../server/src/motion/types.ts';

function sample(tS: number, changes: Partial<ImuSample> = {}): ImuSample {
  return { tS, ax: 10 * tS, ay: 0, az: 9.81, gx: tS, gy: 0, gz: 0, ...changes };
}

/** Ten samples, `missing` left out, ten more. */
function withGap(rateHz: number, missing: number) {
  const state = startRegularise(rateHz, true);
  const times = [...Array(10).keys(), ...[...Array(10).keys()].map((i) => 10 + missing + i)];
  return { state, out: times.flatMap((i) => stepRegularise(state, sample(i / rateHz))) };
}

describe('a gap', () => {
  it('is at most 50 ms to be filled', () => expect(GAP_FILLED_S_MAX).toBe(0.05));

  it.each([
    { rateHz: 100, missing: 5 },
    { rateHz: 200, missing: 10 },
    { rateHz: 1000, missing: 50 },
  ])('of 50 ms is filled by straight lines and flagged ($missing samples at $rateHz Hz)', ({ rateHz, missing }) => {
    const { state, out } = withGap(rateHz, missing);
    expect(out).toHaveLength(20 + missing);
    const filled = out.filter((s) => s.filled);
    expect(filled).toHaveLength(missing);
    out.forEach((s, i) => {
      expect(s.tS).toBeCloseTo(i / rateHz, 12);
      expect(s.ax).toBeCloseTo(10 * s.tS, 9);
      expect(s.filled).toBe(i >= 10 && i < 10 + missing);
      expect(s.fresh).toBe(i === 0);
    });
    expect(state).toMatchObject({ gapsFilled: 1, samplesFilled: missing, breaks: 0 });
  });

  it.each([
    { rateHz: 100, missing: 6 },
    { rateHz: 200, missing: 11 },
    { rateHz: 1000, missing: 51 },
  ])('of one sample more is a break: nothing is made up ($missing samples at $rateHz Hz)', ({ rateHz, missing }) => {
    const { state, out } = withGap(rateHz, missing);
    expect(out).toHaveLength(20);
    expect(out.filter((s) => s.filled)).toHaveLength(0);
    expect(out[10]!.fresh).toBe(true);
    expect(out.filter((s) => s.fresh)).toHaveLength(2);
    expect(state).toMatchObject({ gapsFilled: 0, samplesFilled: 0, breaks: 1 });
  });

  it('is none where times merely jitter by a third of an interval', () => {
    const state = startRegularise(100, true);
    const out = Array.from({ length: 50 }, (_, i) => sample(i / 100 + (i % 2) * 0.0033)).flatMap((s) =>
      stepRegularise(state, s),
    );
    expect(out).toHaveLength(50);
    expect(state).toMatchObject({ gapsFilled: 0, breaks: 0, dropped: 0 });
  });
});

describe('a sample that cannot be used', () => {
  it.each(['tS', 'ax', 'ay', 'az', 'gx', 'gy', 'gz'] as const)('counts as missing: %s is not a number', (key) => {
    const state = startRegularise(100, true);
    const out = [0, 1, 2, 3, 4].flatMap((i) =>
      stepRegularise(state, i === 2 ? sample(0.02, { [key]: NaN }) : sample(i / 100)),
    );
    expect(out).toHaveLength(5);
    expect(out[2]).toMatchObject({ filled: true, tS: expect.closeTo(0.02, 12), ax: expect.closeTo(0.2, 12) });
    expect(state.dropped).toBe(1);
  });

  it('is one with an infinite value', () => {
    const state = startRegularise(100, true);
    expect(stepRegularise(state, sample(0, { az: Infinity }))).toEqual([]);
    expect(stepRegularise(state, sample(0, { gx: -Infinity }))).toEqual([]);
  });

  it('is not one without a gyroscope where the sensor has none', () => {
    const state = startRegularise(100, false);
    const none = { gx: NaN, gy: NaN, gz: NaN };
    expect(stepRegularise(state, sample(0, none))).toHaveLength(1);
    expect(stepRegularise(state, sample(0.01, { ...none, ay: NaN }))).toEqual([]);
  });

  it('is one that does not lie after the one before: time never runs backwards', () => {
    const state = startRegularise(100, true);
    const out = [0, 0.01, 0.01, 0.005, 0.02].flatMap((t) => stepRegularise(state, sample(t)));
    expect(out.map((s) => s.tS)).toEqual([0, 0.01, 0.02]);
    expect(state.dropped).toBe(2);
  });

  it('a rate that is not a positive number is refused when the stage is made', () => {
    for (const rateHz of [0, -1, NaN]) expect(() => startRegularise(rateHz, true)).toThrow(RangeError);
  });
});
