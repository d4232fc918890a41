/** Stored samples as CSV: what each sensor measured along its own axes. */
import { setImmediate } from 'node:timers/promises';
import { decodePayload } from '../ingest/raw-samples.ts';
import type { RawBatch } from '../ingest/raw-log.ts';
import { csvLine } from './csv.ts';

/** Batches made at a time: packets of the sensors come in between. */
const BATCHES_PER_PART = 20;
const HEAD = [
  'sequence',
  'utc_ms',
  'accel_x_m_s2',
  'accel_y_m_s2',
  'accel_z_m_s2',
  'gyro_x_rad_s',
  'gyro_y_rad_s',
  'gyro_z_rad_s',
];
/** Microseconds, and a tenth of the finest count of a usual sensor. */
const TIME_DIGITS = 3;
const VALUE_DIGITS = 6;

/** UTF-8, in parts. @param batches of one stream, in order */
export async function rawCsv(batches: readonly RawBatch[]): Promise<Uint8Array[]> {
  const encoder = new TextEncoder();
  const parts = [encoder.encode(csvLine(HEAD))];
  for (let from = 0; from < batches.length; from += BATCHES_PER_PART) {
    const lines = batches.slice(from, from + BATCHES_PER_PART).flatMap(linesOf);
    parts.push(encoder.encode(lines.join('')));
    await setImmediate();
  }
  return parts;
}

function linesOf(batch: RawBatch): string[] {
  return decodePayload(batch).map(({ utcMs, ax, ay, az, gx, gy, gz }, i) =>
    csvLine([
      batch.firstSequence + i,
      Number(utcMs.toFixed(TIME_DIGITS)),
      ...[ax, ay, az, gx, gy, gz].map((value) => Number(value.toFixed(VALUE_DIGITS))),
    ]),
  );
}
