/** Recorded samples as raw batches: read as the analysis reads them, they are what they were. */
import { describe, expect, it } from 'vitest';
import { ACCEL_SCALE_MIN, GYRO_SCALE_MIN, NANO, crc32c } from '@ambipede/firmware-protocol';
import { RAD_PER_DEG, STANDARD_GRAVITY_MPS2 } from '../../shared/src/index.ts';
import { EVEN_RUNS } from '../../server/src/exchange/even-runs.ts';
import { recordedBatches } from '../../server/src/exchange/recorded-batches.ts';
import { COUNTS_MAX, COUNTS_MIN, scaleOf } from '../../server/src/exchange/sample-scale.ts';
import { decodePayload, sampleTimesUtcMs } from '../../server/src/ingest/raw-samples.ts';
import type { ImuSample } from '../../server/src/motion/types.ts';
import { seededRandom } from '../support/seeded-random.ts';

const ZERO = 1_780_000_000_000;

function samplesAt(times: readonly number[], value: () => number): ImuSample[] {
  return times.map((tS) => ({ tS, ax: value(), ay: value(), az: value(), gx: value(), gy: value(), gz: value() }));
}
const within = (samples: readonly ImuSample[], rateHz: number) => {
  const made = recordedBatches(samples, rateHz, 'import:a', ZERO);
  return { ...made, back: made.batches.flatMap(decodePayload) };
};

describe('the scale of recorded values', () => {
  const random = seededRandom(5);
  const counts = Array.from({ length: 600 }, () => Math.floor(random() * 65536) + COUNTS_MIN);

  it.each([
    ['the smallest of a device', ACCEL_SCALE_MIN * NANO],
    ['another of a device', GYRO_SCALE_MIN * NANO],
    ['2048 counts per g', STANDARD_GRAVITY_MPS2 / 2048],
    ['16.4 counts per deg/s', RAD_PER_DEG / 16.4],
    ['thousandths of g', STANDARD_GRAVITY_MPS2 / 1000],
  ])('is found again: %s', (_, scale) => {
    const values = counts.map((count) => count * scale);
    const found = scaleOf(values);
    expect(values.map((value) => Math.round(value / found))).toEqual(counts);
    // Doubles of the same number: nothing but their last bits may differ.
    expect(Math.abs(found / scale - 1)).toBeLessThan(1e-13);
  });

  it('is that of a device to the last bit, so that its values come back as they were', () => {
    const values = [COUNTS_MIN, -1, 7, COUNTS_MAX].map((count) => count * (5_000_003 * NANO));
    const found = scaleOf(values);
    expect(values.map((value) => Math.round(value / found) * found)).toEqual(values);
  });

  it('spans the largest value when they are steps of nothing: none is off by more than half a step, none is clipped', () => {
    const values = Array.from({ length: 500 }, () => (random() - 0.5) * 300);
    const found = scaleOf(values);
    const most = Math.max(...values.map(Math.abs));
    expect(found).toBeCloseTo(most / COUNTS_MAX, 12);
    for (const value of values) {
      expect(Math.abs(Math.round(value / found))).toBeLessThanOrEqual(COUNTS_MAX);
      expect(Math.abs(Math.round(value / found) * found - value)).toBeLessThanOrEqual(found / 2 + 1e-12);
    }
  });

  it('grows when a single count would not fit any more', () => {
    const fits = scaleOf([(COUNTS_MAX * 5) / 1000, 0.005]);
    expect(fits).toBeCloseTo(0.005, 12);
    expect(scaleOf([((COUNTS_MAX + 1) * 5) / 1000, 0.005])).toBeGreaterThan(fits);
  });

  it('of nothing but zeros is one that can be divided by', () => {
    expect(scaleOf([0, 0])).toBeGreaterThan(0);
  });
});

describe('the batches of a recording', () => {
  const random = seededRandom(9);
  const value = (): number => Math.floor((random() - 0.5) * 60_000) * (5_000_003 * NANO);

  it('give evenly spaced samples back to the last bit, in few batches', () => {
    const samples = samplesAt(
      Array.from({ length: 1000 }, (_, k) => (k * 5) / 1000),
      value,
    );
    const { batches, back, toleranceMs } = within(samples, 200);
    expect(toleranceMs).toBe(0);
    expect(batches).toHaveLength(1000 / EVEN_RUNS.samplesMax);
    expect(back.map(({ utcMs, ...values }) => ({ tS: (utcMs - ZERO) / 1000, ...values }))).toEqual(samples);
  });

  it('give the times of stored batches back to the last bit, however their clock ran', () => {
    const times: number[] = [];
    let firstUtcMs = ZERO + 0.3;
    for (let batch = 0; batch < 40; batch += 1) {
      const endUtcMs = firstUtcMs + 25 * (5 + (random() - 0.5) * 0.004);
      for (const utcMs of sampleTimesUtcMs({ firstUtcMs, endUtcMs, count: 25 })) times.push((utcMs - ZERO) / 1000);
      firstUtcMs = endUtcMs;
    }
    const { back, batches } = within(samplesAt(times, value), 200);
    expect(back.map(({ utcMs }) => (utcMs - ZERO) / 1000)).toEqual(times);
    expect(times.length / batches.length).toBeGreaterThanOrEqual(EVEN_RUNS.meanSamplesMin);
  });

  it('have gaps where samples are missing: sequence numbers that are left out, and no time in between', () => {
    const kept = Array.from({ length: 400 }, (_, k) => k).filter((k) => k < 100 || k >= 137);
    const { batches, back } = within(
      samplesAt(
        kept.map((k) => k * 0.005),
        value,
      ),
      200,
    );
    const numbers = batches.flatMap(({ firstSequence, count }) =>
      Array.from({ length: count }, (_, i) => firstSequence + i),
    );
    expect(numbers).toEqual(kept);
    expect(back.map(({ utcMs }) => Math.round((utcMs - ZERO) / 5))).toEqual(kept);
    for (const batch of batches) expect(crc32c(batch.payload)).toBe(batch.crc32c);
  });

  it.each([
    ['rounded to whole ms', (k: number) => Math.round((k * 1000) / 148) / 1000, 0.5],
    ['with 40 us of jitter', (k: number) => k / 148 + (random() - 0.5) * 80e-6, 0.05],
  ])('keep times %s to within the tolerance that they state', (_, time, toleranceMs) => {
    const times = Array.from({ length: 1000 }, (_, k) => time(k));
    const made = within(samplesAt(times, value), 148);
    expect(made.toleranceMs).toBe(toleranceMs);
    made.back.forEach(({ utcMs }, i) =>
      expect(Math.abs(utcMs - ZERO - times[i]! * 1000)).toBeLessThan(toleranceMs + 0.001),
    );
    expect(times.length / made.batches.length).toBeGreaterThanOrEqual(EVEN_RUNS.meanSamplesMin);
  });

  it('are short where the times are truly irregular: they are not smoothed', () => {
    const times = Array.from({ length: 300 }, (_, k) => k * 0.01 + (k % 2) * 0.004);
    const { back, batches } = within(samplesAt(times, value), 100);
    expect(batches.length).toBeGreaterThan(100);
    back.forEach(({ utcMs }, i) => expect(Math.abs(utcMs - ZERO - times[i]! * 1000)).toBeLessThan(0.501));
  });
});
