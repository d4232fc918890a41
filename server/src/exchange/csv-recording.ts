/** One sensor's samples from a table of values with named columns, units and times. */
import {
  RAD_PER_DEG,
  STANDARD_GRAVITY_MPS2,
  type AccelUnit,
  type CsvMapping,
  type GyroUnit,
  type TimeUnit,
} from '@ambipede/shared';
import type { ImuSample } from '../motion/types.ts';
import { RATE_MAX_HZ, RATE_MIN_HZ } from '../stance/contacts.ts';
import { cellsOf, linesOf, numberIn } from './csv-lines.ts';
import { EVEN_RUNS } from './even-runs.ts';
import { RecordingError } from './recording-error.ts';

const SECONDS: Record<TimeUnit, number> = { s: 1, ms: 1e-3, us: 1e-6 };
const MPS2: Record<AccelUnit, number> = { 'm/s2': 1, g: STANDARD_GRAVITY_MPS2, mg: STANDARD_GRAVITY_MPS2 / 1000 };
const RAD_PER_S: Record<GyroUnit, number> = { 'rad/s': 1, 'deg/s': RAD_PER_DEG };

export interface CsvSamples {
  /** Rising in time, no value missing. `tS` counts from the first row. */
  samples: ImuSample[];
  rateHz: number;
  /** Time of the first row in s on the file's own clock; 0 without a time column. */
  firstRowS: number;
  /** Rows with a value missing: lost samples. */
  rowsLost: number;
}

/** @param name of the file, for messages. @throws RecordingError that says which line, and what to do */
export function readCsvSamples(text: string, mapping: CsvMapping, name: string): CsvSamples {
  const { delimiter, decimal, time, accel, gyro, firstLine } = mapping;
  requireDifferentColumns(mapping, name);
  const timeUnitS = 'unit' in time ? SECONDS[time.unit] : 0;
  const valueColumns = [...accel.columns, ...gyro.columns];
  const needed = Math.max(...valueColumns, 'column' in time ? time.column : 0) + 1;
  const samples: ImuSample[] = [];
  let firstTime: number | null = null;
  let row = 0;
  let rowsLost = 0;
  let before = -Infinity;
  for (const { line, number } of linesOf(text)) {
    if (number < firstLine) continue;
    const cells = cellsOf(line, delimiter);
    if (cells.length < needed)
      throw new RecordingError(
        `${name} line ${number} has ${cells.length} columns, but column ${needed} is wanted. Check the delimiter and the columns.`,
      );
    const numberAt = (column: number): number => {
      const value = numberIn(cells[column]!, decimal);
      if (value !== undefined) return value;
      throw new RecordingError(
        `${name} line ${number} holds "${cells[column]!.trim().slice(0, 40)}" in column ${column + 1}, which is not a number. Choose another column, decimal mark or first row; leave a cell empty where a value is missing.`,
      );
    };
    const told = 'column' in time ? numberAt(time.column) : row;
    firstTime ??= Number.isNaN(told) ? null : told;
    // The first is taken off before the unit comes in: times since 1970 in microseconds keep their last digit.
    const tS = 'column' in time ? (told - (firstTime ?? NaN)) * timeUnitS : row / time.rateHz;
    if (tS <= before)
      throw new RecordingError(
        `${name} line ${number}: the time does not rise. Choose the column of time, and its unit; cut the file where the sensor was started anew, or give the rate instead.`,
      );
    const [ax, ay, az, gx, gy, gz] = valueColumns.map(numberAt) as [number, number, number, number, number, number];
    row += 1;
    if (Number.isNaN(tS + ax + ay + az + gx + gy + gz)) {
      rowsLost += 1;
      continue;
    }
    before = tS;
    const [a, w] = [MPS2[accel.unit], RAD_PER_S[gyro.unit]];
    samples.push({ tS, ax: ax * a, ay: ay * a, az: az * a, gx: gx * w, gy: gy * w, gz: gz * w });
  }
  if (samples.length < 2)
    throw new RecordingError(`${name} holds no rows of values: check the first row, the delimiter and the columns.`);
  const rateHz = 'rateHz' in time ? time.rateHz : rateOf(samples);
  if (!(rateHz >= RATE_MIN_HZ && rateHz <= RATE_MAX_HZ))
    throw new RecordingError(
      `${name} has ${Number(rateHz.toPrecision(3))} samples a second: foot contacts need ${RATE_MIN_HZ} to ${RATE_MAX_HZ}. Check the column and the unit of time.`,
    );
  return { samples, rateHz, firstRowS: (firstTime ?? 0) * timeUnitS, rowsLost };
}

function requireDifferentColumns({ time, accel, gyro }: CsvMapping, name: string): void {
  const used = [...accel.columns, ...gyro.columns, ...('column' in time ? [time.column] : [])];
  const twice = used.find((column, i) => used.indexOf(column) !== i);
  if (twice !== undefined)
    throw new RecordingError(`${name}: column ${twice + 1} is chosen twice. Each value has a column of its own.`);
}

/** Mean rate without the gaps: time stamps that are rounded to whole ms would mislead a median. */
function rateOf(samples: readonly ImuSample[]): number {
  const intervals = Float64Array.from({ length: samples.length - 1 }, (_, i) => samples[i + 1]!.tS - samples[i]!.tS);
  const usualS = intervals.slice().sort()[intervals.length >> 1]!;
  const unbroken = intervals.filter((each) => each <= EVEN_RUNS.gapIntervals * usualS);
  return unbroken.length / unbroken.reduce((sum, each) => sum + each, 0);
}
