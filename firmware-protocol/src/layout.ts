/**
 * The one table of the wire format: encode, decode, the tables in SPEC.md and the test vectors are all held to it.
 * All numbers are little-endian. Every frame begins with magic, version and type.
 */
import type {
  AcknowledgementFields,
  ErrorFields,
  GoodbyeFields,
  HelloFields,
  MessageType,
  SamplesFields,
  StatusFields,
  TimeRequestFields,
  TimeResponseFields,
  WelcomeFields,
} from './messages.ts';

/** The bytes "AP" read as a little-endian u16. */
export const MAGIC = 0x5041;
export const PROTOCOL_VERSION = 1;
export const HEADER_BYTES = 4;

export const FRAME_BYTES_MAX = 4096;
export const SAMPLES_PER_FRAME_MAX = 200;
export const CRC_BYTES = 4;
export const DEVICE_ID_BYTES_MAX = 64;
export const TOKEN_BYTES_MAX = 64;
export const ERROR_TEXT_BYTES_MAX = 512;

/** Accelerometer and gyroscope, which every device has; and the same with a magnetometer. */
export const CHANNELS_ACCEL_GYRO = 0x03;
export const CHANNELS_WITH_MAGN = 0x07;
/** Status values for "the device cannot tell". */
export const BATTERY_UNKNOWN = 255;
export const TEMPERATURE_UNKNOWN = -32768;

export const U16_MAX = 0xffff;
export const U32_MAX = 0xffffffff;
/** 2^53 - 1: the largest count that a double holds exactly; in microseconds 285 years. */
export const TICK_MAX = Number.MAX_SAFE_INTEGER;

/** Smallest scales with which 32767 counts still reach 16 g (156.9064 m/s^2) and 2000 deg/s (34.906585 rad/s). */
export const ACCEL_SCALE_MIN = 4_788_550;
export const ACCEL_SCALE_MAX = 100_000_000;
export const GYRO_SCALE_MIN = 1_065_297;
export const GYRO_SCALE_MAX = 20_000_000;
/**
 * nT per count. The least reaches 400 uT at 32767 counts, six times the strongest field of the earth (67 uT), so that the
 * iron and magnets of the device itself leave room; with the most, the weakest field of the earth (22 uT) still is 22 counts.
 */
export const MAGN_SCALE_MIN = 13;
export const MAGN_SCALE_MAX = 1000;
export const MAGN_SCALE_NONE = 0;

export type NumberType = 'u8' | 'u16' | 'i16' | 'u32' | 'u64';

export interface Field<Name extends string = string> {
  name: Name;
  type: NumberType;
  unit: string;
  min: number;
  max: number;
  /** A value outside the range that is allowed as well, and what it means; null where there is none. */
  also: { value: number; means: string } | null;
}

export interface Layout {
  /** The type byte. */
  code: number;
  from: 'device' | 'server';
  /** Fixed part after the header, without padding between the fields. */
  fields: readonly Field[];
  /** What follows the fixed part; SPEC.md says it in words. */
  tail: 'none' | 'device id, token' | 'samples, crc' | 'text';
}

export const NUMBER_BYTES: Record<NumberType, number> = { u8: 1, u16: 2, i16: 2, u32: 4, u64: 8 };
const TYPE_RANGE: Record<NumberType, [number, number]> = {
  u8: [0, 255],
  u16: [0, U16_MAX],
  i16: [-32768, 32767],
  u32: [0, U32_MAX],
  u64: [0, TICK_MAX],
};

function field<Name extends string>(
  name: Name,
  type: NumberType,
  unit: string,
  range: [number, number] = TYPE_RANGE[type],
  also: Field['also'] = null,
): Field<Name> {
  return { name, type, unit, min: range[0], max: range[1], also };
}

const channels = (): Field<'channels'> =>
  field('channels', 'u8', 'bits', [CHANNELS_ACCEL_GYRO, CHANNELS_ACCEL_GYRO], {
    value: CHANNELS_WITH_MAGN,
    means: 'with magnetometer',
  });

const hello: Field<keyof HelloFields | 'deviceIdBytes' | 'tokenBytes' | 'reserved'>[] = [
  field('bootId', 'u32', '1'),
  field('rateMilliHz', 'u32', 'mHz', [1000, 2_000_000]),
  field('accelScale', 'u32', 'nm/s^2 per count', [ACCEL_SCALE_MIN, ACCEL_SCALE_MAX]),
  field('gyroScale', 'u32', 'nrad/s per count', [GYRO_SCALE_MIN, GYRO_SCALE_MAX]),
  field('magnScale', 'u32', 'nT per count', [MAGN_SCALE_MIN, MAGN_SCALE_MAX], {
    value: MAGN_SCALE_NONE,
    means: 'none',
  }),
  channels(),
  field('deviceIdBytes', 'u8', 'bytes', [1, DEVICE_ID_BYTES_MAX]),
  field('tokenBytes', 'u8', 'bytes', [0, TOKEN_BYTES_MAX]),
  field('reserved', 'u8', '1', [0, 0]),
];
const welcome: Field<keyof WelcomeFields>[] = [field('bootId', 'u32', '1'), field('nextSequence', 'u32', 'samples')];
const samples: Field<keyof SamplesFields | 'reserved'>[] = [
  field('bootId', 'u32', '1'),
  field('firstSequence', 'u32', 'samples'),
  field('oldestSequence', 'u32', 'samples'),
  field('firstTickUs', 'u64', 'us'),
  field('intervalUs', 'u32', 'us', [500, 1_000_000]),
  field('count', 'u16', 'samples', [1, SAMPLES_PER_FRAME_MAX]),
  channels(),
  field('reserved', 'u8', '1', [0, 0]),
];
const status: Field<keyof StatusFields | 'reserved'>[] = [
  field('bootId', 'u32', '1'),
  field('tickUs', 'u64', 'us'),
  field('batteryPercent', 'u8', '%', [0, 100], { value: BATTERY_UNKNOWN, means: 'not known' }),
  field('reserved', 'u8', '1', [0, 0]),
  field('temperatureCentiC', 'i16', '0.01 degC', [-4000, 12500], { value: TEMPERATURE_UNKNOWN, means: 'not known' }),
  field('bufferedSamples', 'u32', 'samples'),
  field('bufferCapacity', 'u32', 'samples', [1, U32_MAX]),
  field('droppedSamples', 'u32', 'samples'),
];
const timeRequest: Field<keyof TimeRequestFields>[] = [
  field('exchangeId', 'u32', '1'),
  field('serverUtcUs', 'u64', 'us'),
];
const timeResponse: Field<keyof TimeResponseFields>[] = [
  field('exchangeId', 'u32', '1'),
  field('serverUtcUs', 'u64', 'us'),
  field('receiveTickUs', 'u64', 'us'),
  field('transmitTickUs', 'u64', 'us'),
];
const acknowledgement: Field<keyof AcknowledgementFields>[] = [
  field('bootId', 'u32', '1'),
  field('nextSequence', 'u32', 'samples'),
];
const error: Field<keyof ErrorFields | 'textBytes'>[] = [
  field('code', 'u16', '1', [1, 999]),
  field('textBytes', 'u16', 'bytes', [0, ERROR_TEXT_BYTES_MAX]),
];
const goodbye: Field<keyof GoodbyeFields>[] = [field('bootId', 'u32', '1'), field('reason', 'u8', '1', [0, 3])];

export const LAYOUTS: Record<MessageType, Layout> = {
  hello: { code: 1, from: 'device', fields: hello, tail: 'device id, token' },
  welcome: { code: 2, from: 'server', fields: welcome, tail: 'none' },
  samples: { code: 3, from: 'device', fields: samples, tail: 'samples, crc' },
  acknowledgement: { code: 4, from: 'server', fields: acknowledgement, tail: 'none' },
  status: { code: 5, from: 'device', fields: status, tail: 'none' },
  timeRequest: { code: 6, from: 'server', fields: timeRequest, tail: 'none' },
  timeResponse: { code: 7, from: 'device', fields: timeResponse, tail: 'none' },
  error: { code: 8, from: 'server', fields: error, tail: 'text' },
  goodbye: { code: 9, from: 'device', fields: goodbye, tail: 'none' },
};

/** int16 values of a sample: ax ay az gx gy gz and, with a magnetometer, mx my mz. */
export function sampleValues(channels: number): number {
  return channels === CHANNELS_WITH_MAGN ? 9 : 6;
}

/** Bytes of a sample. */
export function sampleBytes(channels: number): number {
  return sampleValues(channels) * NUMBER_BYTES.i16;
}

/** hello: a scale for the magnetometer where there is one, and only there. */
export function magnScaleFits(channels: number, magnScale: number): boolean {
  return (channels === CHANNELS_WITH_MAGN) === (magnScale !== MAGN_SCALE_NONE);
}

/** Whether a value may stand in this field. */
export function isAllowed({ min, max, also }: Field, value: number): boolean {
  return (value >= min && value <= max) || value === also?.value;
}

/** Bytes of header and fixed part. */
export function fixedBytes(layout: Layout): number {
  return layout.fields.reduce((sum, { type }) => sum + NUMBER_BYTES[type], HEADER_BYTES);
}
