/** Clock and stamp against a simulated truth: offset, skew, delays that are long, uneven and in bursts. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CLOCK_PARAMETERS,
  clockReady,
  startClock,
  stepClock,
  utcMsOf,
  type ClockState,
  type Exchange,
} from '../../server/src/ingest/clock.ts';
import { SLEW_PPM, stampBatch, type StampState } from '../../server/src/ingest/stamp.ts';

interface World {
  startUtcMs: number;
  bootedMs: number;
  skewPpm: number;
}

const trueTickUs = (world: World, utcMs: number): number =>
  (utcMs - world.startUtcMs + world.bootedMs) * (1 + world.skewPpm * 1e-6) * 1000;

function exchangeAt(world: World, t1UtcMs: number, outMs: number, backMs: number): Exchange {
  const arrivesMs = t1UtcMs + outMs;
  const leavesMs = arrivesMs + 0.2;
  return {
    t1UtcMs,
    t2TickUs: Math.round(trueTickUs(world, arrivesMs)),
    t3TickUs: Math.round(trueTickUs(world, leavesMs)),
    t4UtcMs: leavesMs + backMs,
  };
}

const worlds = fc.record({
  startUtcMs: fc.integer({ min: 1_780_000_000_000, max: 1_900_000_000_000 }),
  bootedMs: fc.integer({ min: 0, max: 1e9 }),
  skewPpm: fc.integer({ min: -150, max: 150 }),
});
const delaysMs = fc.array(
  fc.tuple(fc.double({ min: 0.3, max: 40, noNaN: true }), fc.double({ min: 0.3, max: 40, noNaN: true })),
  { minLength: 20, maxLength: 120 },
);

describe('the clock', () => {
  it('is never wrong by more than half of the longest round trip it has seen', () => {
    fc.assert(
      fc.property(worlds, delaysMs, (world, delays) => {
        const state = startClock();
        delays.forEach(([out, back], i) => {
          const t1 = world.startUtcMs + i * 1000;
          stepClock(state, exchangeAt(world, t1, out, back));
          const boundMs = Math.max(...delays.slice(Math.max(0, i - 63), i + 1).map(([o, b]) => (o + b) / 2));
          const errorMs = utcMsOf(state.fit as NonNullable<ClockState['fit']>, trueTickUs(world, t1)) - t1;
          expect(Math.abs(errorMs)).toBeLessThanOrEqual(boundMs);
        });
        expect(state.steps).toBe(0);
      }),
      { seed: 31, numRuns: 200 },
    );
  });

  it('follows the best exchanges when most answers are late on one way', () => {
    const world: World = { startUtcMs: 1_790_000_000_000, bootedMs: 5e6, skewPpm: 60 };
    const state = startClock();
    for (let i = 0; i < 64; i++) {
      const isClean = i % 8 === 0;
      stepClock(state, exchangeAt(world, world.startUtcMs + i * 1000, 1, isClean ? 1 : 30 + (i % 5) * 10));
    }
    const nowUtcMs = world.startUtcMs + 64_000;
    const fit = state.fit as NonNullable<ClockState['fit']>;
    // Late on the way back by 30 to 70 ms would shift a plain mean by 20 ms and more.
    expect(Math.abs(utcMsOf(fit, trueTickUs(world, nowUtcMs)) - nowUtcMs)).toBeLessThan(1.5);
  });

  it('begins anew after a clock was set, not after one odd exchange', () => {
    const world: World = { startUtcMs: 1_790_000_000_000, bootedMs: 1000, skewPpm: 10 };
    const state = startClock();
    for (let i = 0; i < 10; i++) stepClock(state, exchangeAt(world, world.startUtcMs + i * 1000, 2, 2));
    const later: World = { ...world, startUtcMs: world.startUtcMs + 600 };
    stepClock(state, exchangeAt(later, world.startUtcMs + 10_000, 2, 2));
    stepClock(state, exchangeAt(world, world.startUtcMs + 11_000, 2, 2));
    expect(state.steps).toBe(0);
    for (let i = 12; i < 15; i++) stepClock(state, exchangeAt(later, world.startUtcMs + i * 1000, 2, 2));
    expect(state.steps).toBe(1);
    const nowUtcMs = world.startUtcMs + 15_000;
    const fit = state.fit as NonNullable<ClockState['fit']>;
    expect(Math.abs(utcMsOf(fit, trueTickUs(later, nowUtcMs)) - nowUtcMs)).toBeLessThan(0.5);
  });

  it('gives out no time before it has asked four times', () => {
    const world: World = { startUtcMs: 1_790_000_000_000, bootedMs: 1000, skewPpm: 0 };
    const state = startClock();
    const ready = [0, 1, 2, 3].map((i) => {
      stepClock(state, exchangeAt(world, world.startUtcMs + i * 40, 1, 1));
      return clockReady(state);
    });
    expect(ready).toEqual([false, false, false, true]);
  });
});

describe('stored times', () => {
  it('never run backwards and follow the clock, whatever the delays and wherever a clock is set', () => {
    const settings = fc.tuple(fc.integer({ min: 20, max: 60 }), fc.integer({ min: -5000, max: 5000 }));
    fc.assert(
      fc.property(worlds, delaysMs, settings, (world, delays, [setAt, setByMs]) => {
        const clock = startClock();
        const stamp: StampState = { tickUs: null, utcMs: null };
        let lastUtcMs = -Infinity;
        delays.forEach(([out, back], i) => {
          const shiftMs = i >= setAt ? setByMs : 0;
          const exchange = exchangeAt(world, world.startUtcMs + i * 1000, out, back);
          stepClock(clock, { ...exchange, t1UtcMs: exchange.t1UtcMs + shiftMs, t4UtcMs: exchange.t4UtcMs + shiftMs });
          for (let batch = 0; batch < 25; batch++) {
            const firstTickUs = Math.round(trueTickUs(world, world.startUtcMs + i * 1000 + batch * 40));
            const fit = clock.fit as NonNullable<ClockState['fit']>;
            const { firstUtcMs, endUtcMs } = stampBatch(stamp, fit, firstTickUs, firstTickUs + 40_000);
            expect(firstUtcMs).toBeGreaterThanOrEqual(lastUtcMs);
            expect(endUtcMs).toBeGreaterThan(firstUtcMs);
            lastUtcMs = endUtcMs;
          }
        });
      }),
      { seed: 32, numRuns: 100 },
    );
  });

  it('stretches a batch by no more than the skew of the fit and the slew while no clock was set', () => {
    // 300 ppm and 2000 ppm of it; a part in a million for rounding.
    const stretchMax = (1 + CLOCK_PARAMETERS.skewMaxPpm * 1e-6) * (1 + SLEW_PPM * 1e-6) - 1 + 1e-6;
    fc.assert(
      fc.property(worlds, delaysMs, (world, delays) => {
        const clock = startClock();
        const stamp: StampState = { tickUs: null, utcMs: null };
        delays.forEach(([out, back], i) => {
          stepClock(clock, exchangeAt(world, world.startUtcMs + i * 1000, out, back));
          const firstTickUs = Math.round(trueTickUs(world, world.startUtcMs + i * 1000));
          const fit = clock.fit as NonNullable<ClockState['fit']>;
          const { firstUtcMs, endUtcMs } = stampBatch(stamp, fit, firstTickUs, firstTickUs + 40_000);
          expect(Math.abs((endUtcMs - firstUtcMs) / 40 - 1)).toBeLessThan(stretchMax);
        });
      }),
      { seed: 33, numRuns: 100 },
    );
  });
});
