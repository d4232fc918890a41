/** The samples of a recording as the raw batches that a device would have sent: what is stored is what was measured. */
import { CHANNELS_ACCEL_GYRO, crc32c, payloadOf, quantiseInto } from '@ambipede/firmware-protocol';
import type { RawBatch } from '../ingest/raw-log.ts';
import type { ImuSample } from '../motion/types.ts';
import { EVEN_RUNS, evenRuns } from './even-runs.ts';
import { scaleOf } from './sample-scale.ts';

export interface RecordedBatches {
  batches: RawBatch[];
  /** How far stored times may lie from those of the recording, ms. */
  toleranceMs: number;
}

const VALUES_PER_SAMPLE = 6;

/**
 * @param samples of one sensor with rising times and no value missing: what is missing is a gap in the sequence numbers
 * @param zeroUtcMs when `tS` is 0
 */
export function recordedBatches(
  samples: readonly ImuSample[],
  rateHz: number,
  deviceId: string,
  zeroUtcMs: number,
): RecordedBatches {
  const scales = {
    accelScale: scaleOf(samples.flatMap((s) => [s.ax, s.ay, s.az])),
    gyroScale: scaleOf(samples.flatMap((s) => [s.gx, s.gy, s.gz])),
  };
  const utcMs = Float64Array.from(samples, ({ tS }) => zeroUtcMs + tS * 1000);
  const intervalMs = 1000 / rateHz;
  const sequences = sequencesOf(utcMs, intervalMs);
  const { runs, toleranceMs } = evenRuns(utcMs, intervalMs);
  const bootUtcMs = utcMs[0] ?? zeroUtcMs;
  const batches = runs.map(({ from, count, firstUtcMs, endUtcMs }): RawBatch => {
    const counts = new Int16Array(count * VALUES_PER_SAMPLE);
    for (let i = 0; i < count; i += 1) quantiseInto(counts, i * VALUES_PER_SAMPLE, samples[from + i]!, scales);
    const payload = payloadOf(counts);
    return {
      deviceId,
      bootId: 1,
      firstSequence: sequences[from]!,
      count,
      firstTickUs: Math.round((firstUtcMs - bootUtcMs) * 1000),
      intervalUs: Math.round(intervalMs * 1000),
      firstUtcMs,
      endUtcMs,
      payload,
      ...scales,
      magnScale: 0,
      channels: CHANNELS_ACCEL_GYRO,
      crc32c: crc32c(payload),
    };
  });
  return { batches, toleranceMs };
}

/** Rising by one, and past a gap by as many as are missing. */
function sequencesOf(utcMs: Float64Array, intervalMs: number): Float64Array {
  const sequences = new Float64Array(utcMs.length);
  for (let i = 1; i < utcMs.length; i += 1) {
    const intervals = (utcMs[i]! - utcMs[i - 1]!) / intervalMs;
    sequences[i] = sequences[i - 1]! + (intervals > EVEN_RUNS.gapIntervals ? Math.round(intervals) : 1);
  }
  return sequences;
}
