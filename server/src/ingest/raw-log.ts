/** What ingest needs of durable storage. The store implements it; a failed append must reject, never half-succeed. */

/** Samples of one stream as received, in sequence order, never overlapping what was appended before. */
export interface RawBatch {
  deviceId: string;
  /** Which start of the device: the sequence begins anew with each. */
  bootId: number;
  /** Sequence number of the first sample; the batch holds `count` consecutive ones. */
  firstSequence: number;
  count: number;
  /** Device time of the first sample in device ticks (microseconds since boot). */
  firstTickUs: number;
  /** Mean interval between samples in device ticks. */
  intervalUs: number;
  /** Server's estimate of the first sample's time, ms UTC; non-decreasing within a stream. */
  firstUtcMs: number;
  /** Same for the sample after the last, so that times within are interpolated. */
  endUtcMs: number;
  /** Sample payload exactly as the protocol encodes it (see firmware-protocol/SPEC.md), little-endian. */
  payload: Uint8Array;
  /** Scale factors of the payload: m/s^2, rad/s and T per count; the last is 0 without a magnetometer. */
  accelScale: number;
  gyroScale: number;
  magnScale: number;
  /** What each sample of the payload holds: CHANNELS_ACCEL_GYRO or CHANNELS_WITH_MAGN. */
  channels: number;
  /** CRC-32C over payload. */
  crc32c: number;
}

/** Where the durable part of a stream ends. */
export interface StreamEnd {
  /** Sequence number after the last durable sample. */
  nextSequence: number;
  /** `endUtcMs` of the last durable batch: what is stored next must not lie before it. */
  endUtcMs: number;
}

export interface RawLog {
  /**
   * Resolves when the batches are on disk (fsync): only then may they be acknowledged. All or none. After a rejection
   * ingest asks `streamEnd` before it tries again, so a commit whose answer was lost is not stored twice.
   */
  append(batches: readonly RawBatch[]): Promise<void>;
  /** End of the durable part of a stream; null for a stream never stored. */
  streamEnd(deviceId: string, bootId: number): Promise<StreamEnd | null>;
}
