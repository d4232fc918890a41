/** Whatever bytes arrive, the decoder answers with a message or an error of the catalogue. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CHANNELS_ACCEL_GYRO,
  CHANNELS_WITH_MAGN,
  PROTOCOL_ERRORS,
  decode,
  encode,
  payloadOf,
  sampleValues,
  type Message,
} from '@ambipede/firmware-protocol';

const u32 = fc.integer({ min: 0, max: 2 ** 32 - 1 });
const tick = fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER });
const samples = fc
  .record({
    bootId: u32,
    firstSequence: fc.integer({ min: 1000, max: 2 ** 32 - 300 }),
    back: fc.integer({ min: 0, max: 1000 }),
    firstTickUs: tick,
    intervalUs: fc.integer({ min: 500, max: 1_000_000 }),
    channels: fc.constantFrom(CHANNELS_ACCEL_GYRO, CHANNELS_WITH_MAGN),
    counts: fc.array(fc.array(fc.integer({ min: -32768, max: 32767 }), { minLength: 9, maxLength: 9 }), {
      minLength: 1,
      maxLength: 200,
    }),
  })
  .map(({ back, counts, ...fields }): Message => {
    const payload = payloadOf(Int16Array.from(counts.flatMap((row) => row.slice(0, sampleValues(fields.channels)))));
    return { type: 'samples', ...fields, oldestSequence: fields.firstSequence - back, count: counts.length, payload };
  });
const timeResponse = fc
  .record({ exchangeId: u32, serverUtcUs: tick, receiveTickUs: tick, transmitTickUs: tick })
  .map((fields): Message => ({ type: 'timeResponse', ...fields }));

describe('the decoder', () => {
  it('gives back what was encoded', () => {
    fc.assert(
      fc.property(fc.oneof(samples, timeResponse), (message) => {
        const decoded = decode(encode(message));
        expect(decoded.ok && decoded.message).toEqual(message);
      }),
      { seed: 11, numRuns: 300 },
    );
  });

  it('answers any bytes with a message or a known error', () => {
    const headed = fc.tuple(fc.integer({ min: 0, max: 12 }), fc.uint8Array({ maxLength: 300 })).map(([type, body]) => {
      return new Uint8Array([0x41, 0x50, 1, type, ...body]);
    });
    fc.assert(
      fc.property(fc.oneof(fc.uint8Array({ maxLength: 4200 }), headed), (bytes) => {
        const decoded = decode(bytes);
        if (!decoded.ok) expect(PROTOCOL_ERRORS).toHaveProperty([decoded.error.name]);
      }),
      { seed: 12, numRuns: 5000 },
    );
  });

  it('notices every single flipped bit of a samples frame', () => {
    fc.assert(
      fc.property(samples, fc.nat(), (message, where) => {
        const frame = encode(message);
        const bit = where % (frame.length * 8);
        frame[bit >> 3] = (frame[bit >> 3] as number) ^ (1 << (bit & 7));
        const decoded = decode(frame);
        // A flipped type byte may name another frame of the same length; a samples frame never passes.
        expect(decoded.ok && decoded.message.type === 'samples').toBe(false);
      }),
      { seed: 13, numRuns: 1000 },
    );
  });
});
