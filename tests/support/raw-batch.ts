import { CHANNELS_ACCEL_GYRO, MAGN_SCALE_NONE, crc32c, sampleBytes } from '../../firmware-protocol/src/index.ts';
import type { RawBatch } from '../../server/src/ingest/raw-log.ts';

/** A batch at 200 Hz whose payload bytes tell which samples they are. */
export function makeRawBatch(changes: Partial<RawBatch> = {}): RawBatch {
  const { firstSequence = 0, count = 8, channels = CHANNELS_ACCEL_GYRO } = changes;
  const payload = Uint8Array.from(
    { length: count * sampleBytes(channels) },
    (_, i) => (firstSequence * 31 + i * 7) % 256,
  );
  const firstUtcMs = 1_700_000_000_000 + firstSequence * 5;
  return {
    deviceId: 'device-a',
    bootId: 4_000_000_001,
    firstSequence,
    count,
    firstTickUs: 10_000_000 + firstSequence * 5000,
    intervalUs: 5000,
    firstUtcMs,
    endUtcMs: firstUtcMs + count * 5,
    payload,
    accelScale: 0.00479,
    gyroScale: 0.00107,
    magnScale: MAGN_SCALE_NONE,
    channels,
    crc32c: crc32c(payload),
    ...changes,
  };
}
