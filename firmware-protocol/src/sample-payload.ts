/** Readings in SI to the int16 payload of a samples frame. */
import { CHANNELS_ACCEL_GYRO, sampleBytes } from './layout.ts';

/** One reading of a sensor in its own axes: m/s^2 (reads +g upwards at rest) and rad/s. */
export interface Reading {
  ax: number;
  ay: number;
  az: number;
  gx: number;
  gy: number;
  gz: number;
}

/** Scales of hello as SI units per count. */
export interface SampleScales {
  /** m/s^2 per count. */
  accelScale: number;
  /** rad/s per count. */
  gyroScale: number;
}

/** Scales on the wire are whole numbers of 1e-9 units per count. */
export const NANO = 1e-9;

/** Counts of one reading, clipped to what int16 carries. Returns how many of the six values were clipped. */
export function quantiseInto(target: Int16Array, at: number, reading: Reading, scales: SampleScales): number {
  const counts = [
    reading.ax / scales.accelScale,
    reading.ay / scales.accelScale,
    reading.az / scales.accelScale,
    reading.gx / scales.gyroScale,
    reading.gy / scales.gyroScale,
    reading.gz / scales.gyroScale,
  ];
  let clipped = 0;
  counts.forEach((count, i) => {
    const rounded = Math.round(count);
    const kept = Math.max(-32768, Math.min(32767, rounded));
    if (kept !== rounded) clipped += 1;
    target[at + i] = kept;
  });
  return clipped;
}

/** Int16 counts, sample after sample, as payload bytes (little-endian whatever the host). */
export function payloadOf(counts: Int16Array): Uint8Array {
  const payload = new Uint8Array(counts.length * 2);
  const view = new DataView(payload.buffer);
  counts.forEach((count, i) => view.setInt16(i * 2, count, true));
  return payload;
}

/** The k-th value (0 ax .. 5 gz, 6 mx .. 8 mz) of the i-th sample of a payload, in counts. */
export function countAt(view: DataView, i: number, k: number, channels = CHANNELS_ACCEL_GYRO): number {
  return view.getInt16(i * sampleBytes(channels) + k * 2, true);
}
