/** Frames for fuzzing: valid ones of every type, the same with damage, and bytes that never were a frame. */
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { CHANNELS_ACCEL_GYRO, encode, sampleBytes, type Message } from '@ambipede/firmware-protocol';
import { helloOf } from '../support/hello.ts';

export const BOOT = 5;
const VECTORS = new URL('../../firmware-protocol/vectors/valid.json', import.meta.url);

/** Every valid vector as bytes. */
export const VALID_FRAMES: Uint8Array[] = (JSON.parse(readFileSync(VECTORS, 'utf8')) as { hex: string }[]).map(
  ({ hex }) => Uint8Array.from(Buffer.from(hex, 'hex')),
);

type Damage = { kind: 'flip' | 'cut' | 'grow' | 'set' | 'splice'; at: number; value: number };

const damage: fc.Arbitrary<Damage> = fc.record({
  kind: fc.constantFrom('flip', 'cut', 'grow', 'set', 'splice'),
  at: fc.nat(),
  value: fc.nat(255),
});

function damaged(frame: Uint8Array, steps: readonly Damage[]): Uint8Array {
  let bytes = Uint8Array.from(frame);
  for (const { kind, at, value } of steps) {
    const place = bytes.length === 0 ? 0 : at % bytes.length;
    if (kind === 'flip' && bytes.length > 0) bytes[place] = (bytes[place] ?? 0) ^ (1 << (value & 7));
    else if (kind === 'set' && bytes.length > 0) bytes[place] = value;
    else if (kind === 'cut') bytes = bytes.slice(0, place);
    else if (kind === 'grow') bytes = Uint8Array.from([...bytes, ...new Uint8Array((value % 40) + 1).fill(at & 255)]);
    else if (kind === 'splice') bytes = Uint8Array.from([...bytes.slice(0, place), ...frame.slice(value)]);
  }
  return bytes;
}

export const validFrame: fc.Arbitrary<Uint8Array> = fc.constantFrom(...VALID_FRAMES);
export const damagedFrame: fc.Arbitrary<Uint8Array> = fc
  .tuple(validFrame, fc.array(damage, { minLength: 1, maxLength: 4 }))
  .map(([frame, steps]) => damaged(frame, steps));
export const randomBytes: fc.Arbitrary<Uint8Array> = fc.oneof(
  fc.uint8Array({ maxLength: 80 }),
  fc.uint8Array({ minLength: 4000, maxLength: 4200 }),
);
/** Any bytes behind a header that is right: further into the decoder than chance alone gets. */
export const headedBytes: fc.Arbitrary<Uint8Array> = fc
  .tuple(fc.nat(12), fc.uint8Array({ maxLength: 120 }))
  .map(([type, body]) => Uint8Array.of(0x41, 0x50, 1, type, ...body));
export const anyFrame = fc.oneof(randomBytes, headedBytes, damagedFrame, validFrame);

export const hello = helloOf('fuzz', BOOT);

/** Samples of one device in any order: repeated, overlapping, with holes, some with a counter that is wrong. */
export const samplesMessage: fc.Arbitrary<Message & { type: 'samples' }> = fc
  .record({
    firstSequence: fc.oneof(fc.nat(400), fc.nat(4000), fc.constantFrom(0, 2 ** 32 - 300)),
    back: fc.nat(500),
    count: fc.integer({ min: 1, max: 200 }),
    tickErrorUs: fc.oneof({ weight: 40, arbitrary: fc.constant(0) }, { weight: 1, arbitrary: fc.nat(10_000_000) }),
    intervalUs: fc.oneof(
      { weight: 30, arbitrary: fc.constantFrom(5000, 4999, 5001) },
      { weight: 1, arbitrary: fc.constantFrom(500, 1_000_000) },
    ),
  })
  .map(({ firstSequence, back, count, tickErrorUs, intervalUs }) => ({
    type: 'samples' as const,
    bootId: BOOT,
    firstSequence,
    oldestSequence: Math.max(0, firstSequence - back),
    firstTickUs: firstSequence * 5000 + tickErrorUs,
    intervalUs,
    count,
    channels: CHANNELS_ACCEL_GYRO,
    payload: new Uint8Array(count * sampleBytes(CHANNELS_ACCEL_GYRO)),
  }));

/** What a device may say after welcome. */
export const deviceMessage: fc.Arbitrary<Message> = fc.oneof(
  { weight: 8, arbitrary: samplesMessage },
  {
    weight: 1,
    arbitrary: fc.record({ tickUs: fc.nat(), battery: fc.nat(100) }).map(({ tickUs, battery }): Message => ({
      type: 'status',
      bootId: BOOT,
      tickUs,
      batteryPercent: battery,
      temperatureCentiC: 2000,
      bufferedSamples: 0,
      bufferCapacity: 1,
      droppedSamples: 0,
    })),
  },
);

export const frameOf = (message: Message): Uint8Array => encode(message);
