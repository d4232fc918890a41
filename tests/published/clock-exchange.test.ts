/** Offset and round trip of a four-timestamp exchange against RFC 5905, section 8, and the examples around it. */
import { describe, expect, it } from 'vitest';
import { exchangeOffset } from '../../server/src/ingest/clock.ts';

describe('a four-timestamp exchange', () => {
  // RFC 5905 section 8 with erratum 5020, which proposed (T4 - T3) and was rejected: 50 ms each way, clocks agree.
  it('finds no offset between clocks that agree, 50 ms each way', () => {
    expect(exchangeOffset(0, 50, 50, 100)).toEqual({ theta: 0, delta: 100 });
  });

  // Computed by hand from the same formulas: the asking clock is 1000 behind, 30 out, 10 in the server, 50 back.
  it('is wrong by half the asymmetry of the way', () => {
    const { theta, delta } = exchangeOffset(0, 1030, 1040, 90);
    expect({ theta, delta }).toEqual({ theta: 990, delta: 80 });
    expect(theta - 1000).toBe((30 - 50) / 2);
    expect(Math.abs(theta - 1000)).toBeLessThanOrEqual(delta / 2);
  });
});
