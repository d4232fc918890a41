/** The vectors were made from SPEC.md in another language (vectors/make_vectors.py); here the code has to agree. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  LAYOUTS,
  PROTOCOL_ERRORS,
  SAMPLE_BYTES,
  countAt,
  decode,
  encode,
  payloadOf,
  type Message,
  type MessageType,
} from '@ambipede/firmware-protocol';

interface Vector {
  name: string;
  hex: string;
}
type ValidVector = Vector & { decoded: { type: MessageType; token?: string; counts?: number[][] } };
type MalformedVector = Vector & { error: string };

function load<T>(name: string): T[] {
  return JSON.parse(
    readFileSync(new URL(`../../../firmware-protocol/vectors/${name}.json`, import.meta.url), 'utf8'),
  ) as T[];
}

const valid = load<ValidVector>('valid');
const malformed = load<MalformedVector>('malformed');
const bytesOf = (hex: string): Uint8Array => new Uint8Array(Buffer.from(hex, 'hex'));
const hexOf = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex');

function toMessage({ token, counts, ...rest }: ValidVector['decoded']): Message {
  const extra = {
    ...(token === undefined ? {} : { token: bytesOf(token) }),
    ...(counts === undefined ? {} : { payload: payloadOf(Int16Array.from(counts.flat())) }),
  };
  return { ...rest, ...extra } as Message;
}

function fromMessage(message: Message): unknown {
  if (message.type === 'hello') {
    const { channels: _channels, ...rest } = message as typeof message & { channels?: number };
    return { ...rest, token: hexOf(message.token) };
  }
  if (message.type !== 'samples') return message;
  const { payload, ...rest } = message;
  const view = new DataView(payload.buffer, payload.byteOffset, payload.byteLength);
  const counts = Array.from({ length: payload.length / SAMPLE_BYTES }, (_, i) =>
    [0, 1, 2, 3, 4, 5].map((k) => countAt(view, i, k)),
  );
  return { ...rest, counts };
}

describe('valid vectors', () => {
  it.each(valid)('decodes $name', ({ hex, decoded }) => {
    const result = decode(bytesOf(hex));
    expect(result.ok ? fromMessage(result.message) : result.error).toEqual(decoded);
  });

  it.each(valid)('encodes $name', ({ hex, decoded }) => {
    expect(hexOf(encode(toMessage(decoded)))).toBe(hex);
  });

  it.each(valid)('decodes $name out of the middle of a larger buffer', ({ hex, decoded }) => {
    const padded = new Uint8Array(Buffer.from(`ffffff${hex}ffff`, 'hex'));
    const result = decode(padded.subarray(3, 3 + hex.length / 2));
    expect(result.ok ? fromMessage(result.message) : result.error).toEqual(decoded);
  });

  it('has every type of message', () => {
    expect(new Set(valid.map(({ decoded }) => decoded.type))).toEqual(new Set(Object.keys(LAYOUTS)));
  });

  it('decodes to exactly the fields of the layout', () => {
    for (const { decoded } of valid) {
      const derived = new Set(['reserved', 'channels', 'deviceIdBytes', 'tokenBytes', 'textBytes']);
      const fields = LAYOUTS[decoded.type].fields.map(({ name }) => name).filter((name) => !derived.has(name));
      expect(Object.keys(decoded)).toEqual(expect.arrayContaining(fields));
    }
  });
});

describe('malformed vectors', () => {
  it.each(malformed)('refuses $name', ({ hex, error }) => {
    const result = decode(bytesOf(hex));
    expect(result.ok ? 'accepted' : result.error.name).toBe(error);
    if (!result.ok) expect(result.error.text).not.toBe('');
  });

  it('has every error that a decoder can find', () => {
    const found = new Set(malformed.map(({ error }) => error));
    const names = Object.entries(PROTOCOL_ERRORS).filter(([name, { code }]) => code < 20 && name !== 'not-binary');
    expect(found).toEqual(new Set(names.map(([name]) => name)));
  });
});

describe('encode refuses what the protocol cannot carry', () => {
  const cases: [string, Message][] = [
    ['a boot id beyond 32 bits', { type: 'welcome', bootId: 2 ** 32, nextSequence: 0 }],
    ['a fraction', { type: 'welcome', bootId: 0.5, nextSequence: 0 }],
    [
      'a device id with a space',
      {
        type: 'hello',
        deviceId: 'a b',
        token: new Uint8Array(0),
        bootId: 1,
        rateMilliHz: 1e5,
        accelScale: 5e6,
        gyroScale: 2e6,
      },
    ],
    [
      'a count that does not fit the payload',
      {
        type: 'samples',
        bootId: 1,
        firstSequence: 0,
        oldestSequence: 0,
        firstTickUs: 0,
        intervalUs: 5000,
        count: 2,
        payload: new Uint8Array(12),
      },
    ],
  ];
  it.each(cases)('%s', (_name, message) => {
    expect(() => encode(message)).toThrow(RangeError);
  });
});
