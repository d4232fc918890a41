/** Reading a RawBatch: live streaming and re-analysis use these same functions, so they see the same times and values. */
import { countAt, sampleBytes } from '@ambipede/firmware-protocol';
import type { RawBatch } from './raw-log.ts';

/** One sample in SI (m/s^2, rad/s) at a server time in ms UTC. Magnetometer values stay in the batch: nothing uses them. */
export interface TimedSample {
  utcMs: number;
  ax: number;
  ay: number;
  az: number;
  gx: number;
  gy: number;
  gz: number;
}

type Times = Pick<RawBatch, 'firstUtcMs' | 'endUtcMs' | 'count'>;

/** ms UTC of each sample: evenly spaced from `firstUtcMs`, the one after the last would be at `endUtcMs`. */
export function sampleTimesUtcMs({ firstUtcMs, endUtcMs, count }: Times): Float64Array {
  const times = new Float64Array(count);
  const stepMs = (endUtcMs - firstUtcMs) / count;
  for (let i = 0; i < count; i++) times[i] = firstUtcMs + i * stepMs;
  return times;
}

/** All samples of a batch. Throws RangeError when the payload does not hold `count` samples: the store is damaged. */
export function decodePayload(batch: RawBatch): TimedSample[] {
  const { payload, count, accelScale, gyroScale, channels } = batch;
  const bytes = count * sampleBytes(channels);
  if (payload.byteLength !== bytes) {
    throw new RangeError(`A batch of ${count} samples has ${payload.byteLength} bytes instead of ${bytes}.`);
  }
  const times = sampleTimesUtcMs(batch);
  const view = new DataView(payload.buffer, payload.byteOffset, payload.byteLength);
  const samples = new Array<TimedSample>(count);
  for (let i = 0; i < count; i++) {
    samples[i] = {
      utcMs: times[i] as number,
      ax: countAt(view, i, 0, channels) * accelScale,
      ay: countAt(view, i, 1, channels) * accelScale,
      az: countAt(view, i, 2, channels) * accelScale,
      gx: countAt(view, i, 3, channels) * gyroScale,
      gy: countAt(view, i, 4, channels) * gyroScale,
      gz: countAt(view, i, 5, channels) * gyroScale,
    };
  }
  return samples;
}
