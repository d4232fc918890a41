/** Messages to frames. A message that the protocol cannot carry is a mistake of the caller: throws RangeError. */
import { crc32c } from './crc32c.ts';
import {
  CRC_BYTES,
  LAYOUTS,
  MAGIC,
  PROTOCOL_VERSION,
  fixedBytes,
  isAllowed,
  magnScaleFits,
  sampleBytes,
  type Field,
} from './layout.ts';
import type { Message } from './messages.ts';

/** What a device may be called: it appears in addresses, logs and tables. */
export const DEVICE_ID_PATTERN = /^[A-Za-z0-9._-]+$/;

export function encode(message: Message): Uint8Array {
  const layout = LAYOUTS[message.type];
  const tail = tailOf(message);
  const fixed = fixedBytes(layout);
  const crcBytes = message.type === 'samples' ? CRC_BYTES : 0;
  const frame = new Uint8Array(fixed + tail.length + crcBytes);
  const view = new DataView(frame.buffer);
  view.setUint16(0, MAGIC, true);
  view.setUint8(2, PROTOCOL_VERSION);
  view.setUint8(3, layout.code);
  const values = fieldValues(message, tail);
  let offset = 4;
  for (const field of layout.fields) offset = writeField(view, offset, field, values[field.name]);
  frame.set(tail, fixed);
  if (message.type === 'samples') {
    const end = frame.length - CRC_BYTES;
    view.setUint32(end, crc32c(frame.subarray(0, end)), true);
  }
  return frame;
}

function tailOf(message: Message): Uint8Array {
  if (message.type === 'hello') {
    if (!magnScaleFits(message.channels, message.magnScale)) {
      throw new RangeError('magnScale must be 0 without a magnetometer, and only then.');
    }
    if (!DEVICE_ID_PATTERN.test(message.deviceId)) {
      throw new RangeError(`A device id is made of A-Z a-z 0-9 . _ and -, not "${message.deviceId}".`);
    }
    const deviceId = new TextEncoder().encode(message.deviceId);
    const tail = new Uint8Array(deviceId.length + message.token.length);
    tail.set(deviceId);
    tail.set(message.token, deviceId.length);
    return tail;
  }
  if (message.type === 'samples') {
    const bytes = message.count * sampleBytes(message.channels);
    if (message.payload.length !== bytes) {
      throw new RangeError(`${message.count} samples need ${bytes} bytes, not ${message.payload.length}.`);
    }
    return message.payload;
  }
  return message.type === 'error' ? new TextEncoder().encode(message.text) : new Uint8Array(0);
}

/** The fields of the fixed part, with those that follow from the tail. */
function fieldValues(message: Message, tail: Uint8Array): Record<string, number | undefined> {
  const given = message as unknown as Record<string, number>;
  if (message.type === 'hello') {
    const tokenBytes = message.token.length;
    return {
      ...given,
      deviceIdBytes: tail.length - tokenBytes,
      tokenBytes,
      reserved: 0,
    };
  }
  if (message.type === 'error') return { ...given, textBytes: tail.length };
  return { ...given, reserved: 0 };
}

function writeField(view: DataView, offset: number, field: Field, value: number | undefined): number {
  if (value === undefined || !Number.isInteger(value) || !isAllowed(field, value)) {
    throw new RangeError(`${field.name} must be a whole number from ${field.min} to ${field.max}, not ${value}.`);
  }
  switch (field.type) {
    case 'u8':
      view.setUint8(offset, value);
      return offset + 1;
    case 'u16':
      view.setUint16(offset, value, true);
      return offset + 2;
    case 'i16':
      view.setInt16(offset, value, true);
      return offset + 2;
    case 'u32':
      view.setUint32(offset, value, true);
      return offset + 4;
    case 'u64':
      view.setUint32(offset, value % 2 ** 32, true);
      view.setUint32(offset + 4, Math.floor(value / 2 ** 32), true);
      return offset + 8;
  }
}
