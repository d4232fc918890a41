/** Frames to messages. Never throws: bad bytes come back as an error of the catalogue. */
import { crc32c } from './crc32c.ts';
import { DEVICE_ID_PATTERN } from './encode.ts';
import type { ProtocolError, ProtocolErrorName } from './errors.ts';
import {
  CRC_BYTES,
  FRAME_BYTES_MAX,
  HEADER_BYTES,
  LAYOUTS,
  MAGIC,
  NUMBER_BYTES,
  PROTOCOL_VERSION,
  TICK_MAX,
  U32_MAX,
  fixedBytes,
  isAllowed,
  magnScaleFits,
  sampleBytes,
  type Field,
  type Layout,
} from './layout.ts';
import type { Message, MessageType } from './messages.ts';

export type Decoded = { ok: true; message: Message } | { ok: false; error: ProtocolError };

const TYPE_BY_CODE = new Map<number, { type: MessageType; layout: Layout; fixed: number }>(
  Object.entries(LAYOUTS).map(([type, layout]) => [
    layout.code,
    { type: type as MessageType, layout, fixed: fixedBytes(layout) },
  ]),
);

type Values = Record<string, number>;

export function decode(frame: Uint8Array): Decoded {
  if (frame.length > FRAME_BYTES_MAX) return bad('too-long', `${frame.length} bytes; the limit is ${FRAME_BYTES_MAX}.`);
  if (frame.length < HEADER_BYTES)
    return bad('too-short', `${frame.length} bytes; the header alone has ${HEADER_BYTES}.`);
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  if (view.getUint16(0, true) !== MAGIC) return bad('bad-magic', 'The frame does not begin with the bytes 41 50.');
  const version = view.getUint8(2);
  if (version !== PROTOCOL_VERSION) {
    return bad('unsupported-version', `Version ${version}; this side speaks version ${PROTOCOL_VERSION}.`);
  }
  const known = TYPE_BY_CODE.get(view.getUint8(3));
  if (!known) return bad('unknown-type', `Frame type ${view.getUint8(3)} is not known in version ${PROTOCOL_VERSION}.`);
  const { type, layout, fixed } = known;
  if (frame.length < fixed) return bad('too-short', `${frame.length} bytes; a ${type} frame has at least ${fixed}.`);

  const values: Values = {};
  let offset = HEADER_BYTES;
  for (const field of layout.fields) {
    const value = readNumber(view, offset, field.type);
    if (!isAllowed(field, value)) return outOfRange(field, value);
    if (field.name !== 'reserved') values[field.name] = value;
    offset += NUMBER_BYTES[field.type];
  }
  const length = fixed + tailBytes(layout, values);
  if (frame.length !== length)
    return bad('wrong-length', `${frame.length} bytes; this ${type} frame must have ${length}.`);
  return withTail(type, values, frame, view, fixed);
}

function tailBytes(layout: Layout, values: Values): number {
  switch (layout.tail) {
    case 'none':
      return 0;
    case 'device id, token':
      return (values['deviceIdBytes'] as number) + (values['tokenBytes'] as number);
    case 'samples, crc':
      return (values['count'] as number) * sampleBytes(values['channels'] as number) + CRC_BYTES;
    case 'text':
      return values['textBytes'] as number;
  }
}

function withTail(type: MessageType, values: Values, frame: Uint8Array, view: DataView, fixed: number): Decoded {
  if (type === 'samples') {
    const end = frame.length - CRC_BYTES;
    const stated = view.getUint32(end, true);
    const computed = crc32c(frame.subarray(0, end));
    if (stated !== computed)
      return bad('crc-mismatch', `The frame says ${hex(stated)}, its bytes give ${hex(computed)}.`);
    const lastSequence = (values['firstSequence'] as number) + (values['count'] as number) - 1;
    // The largest sequence is left free so that "next" always fits.
    if (lastSequence >= U32_MAX)
      return bad('out-of-range', `Sequence ${lastSequence} reaches 2^32 - 1: start a new boot id.`);
    if ((values['oldestSequence'] as number) > (values['firstSequence'] as number)) {
      return bad('out-of-range', 'oldestSequence lies after firstSequence.');
    }
    return good({ type, ...values, payload: frame.subarray(fixed, end) });
  }
  if (type === 'hello') {
    const { deviceIdBytes, tokenBytes: _tokenBytes, ...fields } = values;
    if (!magnScaleFits(values['channels'] as number, values['magnScale'] as number)) {
      return bad('out-of-range', 'magnScale must be 0 without a magnetometer, and only then.');
    }
    const tokenAt = fixed + (deviceIdBytes as number);
    const deviceId = utf8(frame.subarray(fixed, tokenAt));
    if (deviceId === null || !DEVICE_ID_PATTERN.test(deviceId)) {
      return bad('bad-device-id', 'A device id is made of A-Z a-z 0-9 . _ and -.');
    }
    return good({ type, ...fields, deviceId, token: frame.subarray(tokenAt) });
  }
  if (type === 'error') {
    const text = utf8(frame.subarray(fixed));
    if (text === null) return bad('bad-text', 'The text is not UTF-8.');
    return good({ type, code: values['code'], text });
  }
  return good({ type, ...values });
}

/** Values beyond 2^53 - 1 come back as larger than any allowed maximum. */
function readNumber(view: DataView, offset: number, type: Field['type']): number {
  switch (type) {
    case 'u8':
      return view.getUint8(offset);
    case 'u16':
      return view.getUint16(offset, true);
    case 'i16':
      return view.getInt16(offset, true);
    case 'u32':
      return view.getUint32(offset, true);
    case 'u64': {
      const value = view.getUint32(offset + 4, true) * 2 ** 32 + view.getUint32(offset, true);
      return value > TICK_MAX ? Infinity : value;
    }
  }
}

function utf8(bytes: Uint8Array): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return null;
  }
}

// The table in layout.ts has the fields of every message: a test decodes a vector of each type and compares all of it.
function good(message: object): Decoded {
  return { ok: true, message: message as Message };
}

function bad(name: ProtocolErrorName, text: string): Decoded {
  return { ok: false, error: { name, text } };
}

function outOfRange(field: Field, value: number): Decoded {
  const shown = value === Infinity ? 'a value above 2^53 - 1' : String(value);
  return bad(
    'out-of-range',
    `${field.name} is ${shown}; it must be from ${field.min} to ${field.max} (${field.unit})${alsoText(field)}.`,
  );
}

function alsoText({ also }: Field): string {
  return also ? `, or ${also.value} (${also.means})` : '';
}

function hex(value: number): string {
  return value.toString(16).padStart(8, '0');
}
