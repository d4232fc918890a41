/** The vectors were made from SPEC.md in another language (vectors/make_vectors.py); here the code has to agree. */
import { describe, expect, it } from 'vitest';
import {
  LAYOUTS,
  PROTOCOL_ERRORS,
  countAt,
  decode,
  encode,
  payloadOf,
  sampleBytes,
  sampleValues,
  type Message,
} from '@ambipede/firmware-protocol';
import { bytesOf, hexOf, malformedVectors, validVectors, type ValidVector } from './vectors.ts';

function toMessage({ token, counts, ...rest }: ValidVector['decoded']): Message {
  const extra = {
    ...(token === undefined ? {} : { token: bytesOf(token) }),
    ...(counts === undefined ? {} : { payload: payloadOf(Int16Array.from(counts.flat())) }),
  };
  return { ...rest, ...extra } as unknown as Message;
}

function fromMessage(message: Message): unknown {
  if (message.type === 'hello') return { ...message, token: hexOf(message.token) };
  if (message.type !== 'samples') return message;
  const { payload, ...rest } = message;
  const view = new DataView(payload.buffer, payload.byteOffset, payload.byteLength);
  const { channels } = message;
  const counts = Array.from({ length: payload.length / sampleBytes(channels) }, (_, i) =>
    Array.from({ length: sampleValues(channels) }, (_, k) => countAt(view, i, k, channels)),
  );
  return { ...rest, counts };
}

describe('valid vectors', () => {
  it.each(validVectors)('decodes $name', ({ hex, decoded }) => {
    const result = decode(bytesOf(hex));
    expect(result.ok ? fromMessage(result.message) : result.error).toEqual(decoded);
  });

  it.each(validVectors)('encodes $name', ({ hex, decoded }) => {
    expect(hexOf(encode(toMessage(decoded)))).toBe(hex);
  });

  it.each(validVectors)('decodes $name out of the middle of a larger buffer', ({ hex, decoded }) => {
    const padded = new Uint8Array(Buffer.from(`ffffff${hex}ffff`, 'hex'));
    const result = decode(padded.subarray(3, 3 + hex.length / 2));
    expect(result.ok ? fromMessage(result.message) : result.error).toEqual(decoded);
  });

  it('has every type of message', () => {
    expect(new Set(validVectors.map(({ decoded }) => decoded.type))).toEqual(new Set(Object.keys(LAYOUTS)));
  });

  it('decodes to exactly the fields of the layout', () => {
    for (const { decoded } of validVectors) {
      const derived = new Set(['reserved', 'deviceIdBytes', 'tokenBytes', 'textBytes']);
      const fields = LAYOUTS[decoded.type].fields.map(({ name }) => name).filter((name) => !derived.has(name));
      expect(Object.keys(decoded)).toEqual(expect.arrayContaining(fields));
    }
  });
});

describe('malformed vectors', () => {
  it.each(malformedVectors)('refuses $name', ({ hex, error }) => {
    const result = decode(bytesOf(hex));
    expect(result.ok ? 'accepted' : result.error.name).toBe(error);
    if (!result.ok) expect(result.error.text).not.toBe('');
  });

  it('has every error that a decoder can find', () => {
    const found = new Set(malformedVectors.map(({ error }) => error));
    const names = Object.entries(PROTOCOL_ERRORS).filter(([name, { code }]) => code < 20 && name !== 'not-binary');
    expect(found).toEqual(new Set(names.map(([name]) => name)));
  });
});

const hello: Message = {
  type: 'hello',
  deviceId: 'a',
  token: new Uint8Array(0),
  bootId: 1,
  rateMilliHz: 1e5,
  accelScale: 5e6,
  gyroScale: 2e6,
  magnScale: 0,
  channels: 3,
};
const samples: Message = {
  type: 'samples',
  bootId: 1,
  firstSequence: 0,
  oldestSequence: 0,
  firstTickUs: 0,
  intervalUs: 5000,
  count: 2,
  channels: 3,
  payload: new Uint8Array(24),
};

describe('encode refuses what the protocol cannot carry', () => {
  const cases: [string, Message][] = [
    ['a boot id beyond 32 bits', { type: 'welcome', bootId: 2 ** 32, nextSequence: 0 }],
    ['a fraction', { type: 'welcome', bootId: 0.5, nextSequence: 0 }],
    ['a device id with a space', { ...hello, deviceId: 'a b' }],
    ['a magnetometer without a scale', { ...hello, channels: 7 }],
    ['a scale without a magnetometer', { ...hello, magnScale: 150 }],
    ['a gyroscope alone', { ...hello, channels: 2 }],
    ['a payload too short for its count', { ...samples, payload: new Uint8Array(12) }],
    ['a payload too short for a magnetometer', { ...samples, channels: 7 }],
  ];
  it.each(cases)('%s', (_name, message) => {
    expect(() => encode(message)).toThrow(RangeError);
  });
});
