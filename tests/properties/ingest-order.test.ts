/** The order stage: cutting, repeating and shuffling within the window change nothing. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CHANNELS_ACCEL_GYRO, CHANNELS_WITH_MAGN, sampleBytes } from '@ambipede/firmware-protocol';
import { finishOrder, startOrder, stepOrder, type OrderOutput, type TickBatch } from '../../server/src/ingest/order.ts';

const INTERVAL_US = 5000;

/** Samples whose payload and tick tell their sequence. */
function batchOf(firstSequence: number, count: number, channels = CHANNELS_ACCEL_GYRO): TickBatch {
  const payload = new Uint8Array(count * sampleBytes(channels));
  const view = new DataView(payload.buffer);
  for (let i = 0; i < count; i++) view.setUint32(i * sampleBytes(channels), firstSequence + i, true);
  return {
    firstSequence,
    count,
    firstTickUs: 7_000_000 + firstSequence * INTERVAL_US,
    intervalUs: INTERVAL_US,
    channels,
    payload,
  };
}

/** Sequence of every sample passed on; -1 where payload or tick are those of another sample. */
function sequencesIn(outputs: OrderOutput[]): number[] {
  return outputs.flatMap((output) => {
    if (output.kind !== 'batch') return [];
    const { firstSequence, count, firstTickUs, intervalUs, channels, payload } = output.batch;
    const bytes = sampleBytes(channels);
    const view = new DataView(payload.buffer, payload.byteOffset, payload.byteLength);
    return Array.from({ length: count }, (_, i) => {
      const sequence = firstSequence + i;
      const isItsPayload = view.getUint32(i * bytes, true) === sequence;
      const isItsTick = firstTickUs + i * intervalUs === 7_000_000 + sequence * INTERVAL_US;
      return isItsPayload && isItsTick && payload.length === count * bytes ? sequence : -1;
    });
  });
}

function total(outputs: OrderOutput[], kind: 'gap' | 'duplicate' | 'late'): number {
  return outputs.reduce((sum, output) => sum + (output.kind === kind ? output.count : 0), 0);
}

const TOTAL = 300;
const WINDOW = 120;

/** Cuts of 0..TOTAL into batches of at most 50, each sent up to three times, moved by less than the window. */
const journeys = fc
  .tuple(
    fc.uniqueArray(fc.integer({ min: 1, max: TOTAL - 1 }), { maxLength: 40 }),
    fc.array(fc.record({ copies: fc.integer({ min: 1, max: 3 }), delay: fc.integer({ min: 0, max: WINDOW - 1 }) }), {
      minLength: 47,
      maxLength: 47,
    }),
    fc.array(
      fc.tuple(
        fc.integer({ min: 0, max: TOTAL - 20 }),
        fc.integer({ min: 1, max: 20 }),
        fc.integer({ min: 0, max: WINDOW - 1 }),
      ),
      { maxLength: 10 },
    ),
  )
  .map(([cuts, ways, extras]) => {
    const edges = [...new Set([0, 50, 100, 150, 200, 250, TOTAL, ...cuts])].sort((a, b) => a - b);
    const sent = edges.slice(0, -1).flatMap((from, i) => {
      const way = ways[i] ?? { copies: 1, delay: 0 };
      const count = (edges[i + 1] as number) - from;
      // A batch arrives when the stream's end is at its own end plus the delay: never behind by the window.
      return Array.from({ length: way.copies }, (_, copy) => ({
        from,
        count,
        at: from + count + Math.max(0, way.delay - count) * ((copy + 1) / way.copies),
      }));
    });
    // Overlapping repeats of what was sent before.
    const again = extras.map(([from, count, delay]) => ({ from, count, at: from + count + delay }));
    return [...sent, ...again].sort((a, b) => a.at - b.at);
  });

describe('the order stage', () => {
  it('passes on every sample once and in order, however it was cut, repeated and shuffled within the window', () => {
    fc.assert(
      fc.property(journeys, fc.constantFrom(CHANNELS_ACCEL_GYRO, CHANNELS_WITH_MAGN), (journey, channels) => {
        const state = startOrder(0, WINDOW);
        const outputs = journey.flatMap(({ from, count }) => stepOrder(state, batchOf(from, count, channels), 0));
        expect(sequencesIn(outputs)).toEqual(Array.from({ length: TOTAL }, (_, i) => i));
        expect(total(outputs, 'gap') + total(outputs, 'late')).toBe(0);
        const received = journey.reduce((sum, { count }) => sum + count, 0);
        expect(total(outputs, 'duplicate')).toBe(received - TOTAL);
        expect(finishOrder(state)).toEqual([]);
      }),
      { seed: 21, numRuns: 300 },
    );
  });

  it('accounts for every sample: passed on once, or a gap, or dropped', () => {
    const anything = fc.array(
      fc.record({
        from: fc.integer({ min: 0, max: 900 }),
        count: fc.integer({ min: 1, max: 60 }),
        oldest: fc.integer({ min: 0, max: 900 }),
      }),
      { maxLength: 60 },
    );
    fc.assert(
      fc.property(anything, (batches) => {
        const state = startOrder(0, WINDOW);
        const outputs = batches.flatMap(({ from, count, oldest }) =>
          stepOrder(state, batchOf(from, count), Math.min(oldest, from)),
        );
        outputs.push(...finishOrder(state));
        const passed = sequencesIn(outputs);
        expect(passed).toEqual([...new Set(passed)].sort((a, b) => a - b));
        const received = batches.reduce((sum, { count }) => sum + count, 0);
        expect(passed.length + total(outputs, 'duplicate') + total(outputs, 'late')).toBe(received);
        // Gaps and samples together cover everything up to the end without overlap.
        expect(passed.length + total(outputs, 'gap')).toBe(state.next);
      }),
      { seed: 22, numRuns: 300 },
    );
  });
});

describe('the order stage at its window', () => {
  it('waits while the newest sample is the window away', () => {
    const state = startOrder(0, WINDOW);
    expect(stepOrder(state, batchOf(10, WINDOW - 10), 0)).toEqual([]);
    expect(sequencesIn(stepOrder(state, batchOf(0, 10), 0))).toHaveLength(WINDOW);
  });

  it('gives up what is missing one sample later', () => {
    const state = startOrder(0, WINDOW);
    const outputs = stepOrder(state, batchOf(10, WINDOW - 9), 0);
    expect(outputs[0]).toEqual({ kind: 'gap', firstSequence: 0, count: 10 });
    expect(sequencesIn(outputs)).toHaveLength(WINDOW - 9);
    expect(stepOrder(state, batchOf(0, 10), 0)).toEqual([{ kind: 'late', count: 10 }]);
  });

  it('does not wait for what the device no longer has', () => {
    const state = startOrder(0, WINDOW);
    expect(stepOrder(state, batchOf(50, 5), 50)).toEqual([
      { kind: 'gap', firstSequence: 0, count: 50 },
      { kind: 'batch', batch: batchOf(50, 5) },
    ]);
  });
});
