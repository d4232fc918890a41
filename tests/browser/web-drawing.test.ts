/** Where the pages draw a value, and what the trace keeps: pure, without a browser. */
import { describe, expect, test } from 'vitest';
import { CURRENT_WITHIN_MS, TRACE_GAP_MS, TRACE_WINDOW_MS, TraceBuffer } from '../../web/src/charts/trace-buffer.ts';
import { differencePercent, outward, pairScale, roundUp } from '../../web/src/components/scale.ts';

const BOTH_DELIVER = { obliquityDeg: false, trunkTiltDeg: false };

describe('scales', () => {
  test('round up to an end that is soon read, at most half as much again', () => {
    expect([0.3, 1, 1.01, 2.2, 4, 7, 240].map(roundUp)).toEqual([0.3, 1, 1.5, 2.5, 4, 8, 250]);
    expect([0, -1, Number.NaN].map(roundUp)).toEqual([1, 1, 1]);
  });

  test('put zero on the plumb line, and move it out on both sides when a value is negative', () => {
    expect(outward(0, pairScale([3, null, 4]))).toBe(0);
    const withNegative = pairScale([-1, 4]);
    expect(withNegative).toEqual({ low: -1, high: 4 });
    expect(outward(0, withNegative)).toBeCloseTo(1 / 5);
  });

  test('draw what is more on the left to the left, and keep it inside', () => {
    expect([2, 0, -2, 9, -9].map((value) => differencePercent(value, 4))).toEqual([25, 50, 75, 0, 100]);
  });
});

describe('the trace', () => {
  test('breaks the line where neighbours are too far apart, and not one millisecond before', () => {
    const trace = new TraceBuffer();
    trace.push([1000, 1000 + TRACE_GAP_MS], [1, 2], [1, 2], BOTH_DELIVER);
    expect(trace.obliquityDeg).toEqual([1, 2]);
    trace.push([1001 + 2 * TRACE_GAP_MS], [3], [3], BOTH_DELIVER);
    expect(trace.obliquityDeg).toEqual([1, 2, null, 3]);
    expect(trace.trunkTiltDeg).toEqual([1, 2, null, 3]);
  });

  test('keeps the column of a sensor that does not deliver empty', () => {
    const trace = new TraceBuffer();
    trace.push([1000], [1], [7], { obliquityDeg: false, trunkTiltDeg: true });
    expect([trace.obliquityDeg, trace.trunkTiltDeg]).toEqual([[1], [null]]);
  });

  test('never runs back: a small step back is dropped, a large one starts anew', () => {
    const trace = new TraceBuffer();
    trace.push([5000, 4990, 5000, 5010], [1, 2, 3, 4], [1, 2, 3, 4], BOTH_DELIVER);
    expect(trace.utcMs).toEqual([5000, 5010]);
    trace.push([5009 - CURRENT_WITHIN_MS], [9], [9], BOTH_DELIVER);
    expect([trace.utcMs, trace.obliquityDeg, trace.trunkTiltDeg]).toEqual([[5009 - CURRENT_WITHIN_MS], [9], [9]]);
  });

  test('calls a value current only while its time is near now, on either side', () => {
    const trace = new TraceBuffer();
    trace.push([10_000], [4], [null], BOTH_DELIVER);
    const at = (now: number) => trace.current('obliquityDeg', now);
    expect([10_000, 10_000 + CURRENT_WITHIN_MS, 10_000 - CURRENT_WITHIN_MS].map(at)).toEqual([4, 4, 4]);
    expect([10_001 + CURRENT_WITHIN_MS, 9_999 - CURRENT_WITHIN_MS].map(at)).toEqual([null, null]);
    expect(trace.current('trunkTiltDeg', 10_000)).toBeNull();
  });

  test('holds a bounded stretch, and always at least what is drawn', () => {
    const trace = new TraceBuffer();
    for (let t = 0; t < 10 * TRACE_WINDOW_MS; t += 50) trace.push([t], [t], [t], BOTH_DELIVER);
    const stretch = trace.utcMs.at(-1)! - trace.utcMs[0]!;
    expect(stretch).toBeGreaterThanOrEqual(TRACE_WINDOW_MS);
    expect(stretch).toBeLessThan(2 * TRACE_WINDOW_MS);
    expect([trace.obliquityDeg.length, trace.trunkTiltDeg.length]).toEqual([trace.utcMs.length, trace.utcMs.length]);
  });
});
