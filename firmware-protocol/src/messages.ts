/** The messages as values. Units and ranges are in layout.ts and SPEC.md; a test holds the three together. */

export interface HelloFields {
  /** Which start of the device; differs from every earlier one of the same device. */
  bootId: number;
  /** Nominal sample rate in mHz. */
  rateMilliHz: number;
  /** 1e-9 m/s^2 per count. */
  accelScale: number;
  /** 1e-9 rad/s per count. */
  gyroScale: number;
  /** 1e-9 T per count; 0 (MAGN_SCALE_NONE) without a magnetometer. */
  magnScale: number;
  /** CHANNELS_ACCEL_GYRO or CHANNELS_WITH_MAGN, as magnScale says. */
  channels: number;
}

export interface WelcomeFields {
  bootId: number;
  /** Sequence of the first sample that the server wants: everything before it is durable. */
  nextSequence: number;
}

export interface SamplesFields {
  bootId: number;
  firstSequence: number;
  /** Oldest sample the device can still send: what is missing before it will never come. */
  oldestSequence: number;
  /** Device time of the first sample, microseconds since boot. */
  firstTickUs: number;
  /** Mean interval within this frame in device microseconds. */
  intervalUs: number;
  count: number;
  /** What each sample holds, as in hello. */
  channels: number;
}

export interface StatusFields {
  bootId: number;
  tickUs: number;
  /** 0..100, or BATTERY_UNKNOWN. */
  batteryPercent: number;
  /** Hundredths of a degree Celsius, or TEMPERATURE_UNKNOWN. */
  temperatureCentiC: number;
  bufferedSamples: number;
  bufferCapacity: number;
  /** Samples since boot that the ring buffer had to give up before they were acknowledged. */
  droppedSamples: number;
}

export interface TimeRequestFields {
  exchangeId: number;
  /** T1, server time, microseconds since 1970 UTC. */
  serverUtcUs: number;
}

export interface TimeResponseFields {
  exchangeId: number;
  /** T1, as it came. */
  serverUtcUs: number;
  /** T2, device time of arrival. */
  receiveTickUs: number;
  /** T3, device time of departure. */
  transmitTickUs: number;
}

export interface AcknowledgementFields {
  bootId: number;
  /** Every sample before this one is durable or was declared lost: the device may forget it. */
  nextSequence: number;
}

export interface ErrorFields {
  code: number;
}

export interface GoodbyeFields {
  bootId: number;
  /** 0 not said, 1 switched off, 2 battery empty, 3 updating. */
  reason: number;
}

export type HelloMessage = { type: 'hello'; deviceId: string; token: Uint8Array } & HelloFields;
export type WelcomeMessage = { type: 'welcome' } & WelcomeFields;
/** `payload`: count x six or nine int16 as `channels` says, little-endian, a view into the frame. */
export type SamplesMessage = { type: 'samples'; payload: Uint8Array } & SamplesFields;
export type StatusMessage = { type: 'status' } & StatusFields;
export type TimeRequestMessage = { type: 'timeRequest' } & TimeRequestFields;
export type TimeResponseMessage = { type: 'timeResponse' } & TimeResponseFields;
export type AcknowledgementMessage = { type: 'acknowledgement' } & AcknowledgementFields;
export type ErrorMessage = { type: 'error'; text: string } & ErrorFields;
export type GoodbyeMessage = { type: 'goodbye' } & GoodbyeFields;

export type Message =
  | HelloMessage
  | WelcomeMessage
  | SamplesMessage
  | StatusMessage
  | TimeRequestMessage
  | TimeResponseMessage
  | AcknowledgementMessage
  | ErrorMessage
  | GoodbyeMessage;

export type MessageType = Message['type'];
