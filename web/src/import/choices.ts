/** What is chosen about a table, complete or not, and what the server is told of it. */
import {
  SAMPLE_RATE_HZ,
  type AccelUnit,
  type AxisColumns,
  type CsvColumns,
  type CsvFormat,
  type CsvMapping,
  type DecimalMark,
  type Delimiter,
  type GyroUnit,
  type ImportPreview,
  type Place,
  type TimeUnit,
} from '@ambipede/shared';
import { lineOf, numberOf } from './typed.ts';

export const AXES = ['x', 'y', 'z'] as const;
export const QUANTITIES = ['accel', 'gyro'] as const;
export type Quantity = (typeof QUANTITIES)[number];

export interface FormatChoice {
  delimiter: Delimiter;
  decimal: DecimalMark;
  firstLine: string;
}

export interface TimeChoice {
  kind: 'column' | 'rate';
  column: number | null;
  unit: TimeUnit | null;
  rate: string;
}

type Axes = [x: number | null, y: number | null, z: number | null];

export interface SensorChoice {
  place: Place | null;
  accel: { columns: Axes; unit: AccelUnit | null };
  gyro: { columns: Axes; unit: GyroUnit | null };
}

export function formatOf({ delimiter, decimal, firstLine }: FormatChoice): CsvFormat | null {
  const line = lineOf(firstLine);
  return line === null ? null : { delimiter, decimal, firstLine: line };
}

export function timeOf({ kind, column, unit, rate }: TimeChoice): CsvColumns['time'] | null {
  if (kind === 'column') return column === null || unit === null ? null : { column, unit };
  const rateHz = rateOf(rate);
  return rateHz === null ? null : { rateHz };
}

export function rateOf(text: string): number | null {
  const rateHz = numberOf(text);
  return rateHz !== null && rateHz >= SAMPLE_RATE_HZ.min && rateHz <= SAMPLE_RATE_HZ.max ? rateHz : null;
}

function columnsOf(axes: Axes): AxisColumns | null {
  const [x, y, z] = axes;
  return x === null || y === null || z === null ? null : [x, y, z];
}

/** Null as long as something is missing. */
export function mappingOf(format: FormatChoice, time: TimeChoice, { accel, gyro }: SensorChoice): CsvMapping | null {
  const parts = { format: formatOf(format), time: timeOf(time) };
  const columns = { accel: columnsOf(accel.columns), gyro: columnsOf(gyro.columns) };
  if (!parts.format || !parts.time || !columns.accel || !columns.gyro) return null;
  if (accel.unit === null || gyro.unit === null) return null;
  return {
    ...parts.format,
    time: parts.time,
    accel: { columns: columns.accel, unit: accel.unit },
    gyro: { columns: columns.gyro, unit: gyro.unit },
  };
}

export function noSensor(place: Place | null = null): SensorChoice {
  return {
    place,
    accel: { columns: [null, null, null], unit: null },
    gyro: { columns: [null, null, null], unit: null },
  };
}

export function guessedTime(guess: ImportPreview['guess']['time']): TimeChoice {
  const none: TimeChoice = { kind: 'column', column: null, unit: null, rate: '' };
  if (guess === null) return none;
  return 'rateHz' in guess ? { ...none, kind: 'rate', rate: String(guess.rateHz) } : { ...none, ...guess };
}

export function guessedSensor({ place, accel, gyro }: ImportPreview['guess']['sensors'][number]): SensorChoice {
  const none = noSensor(place);
  return {
    place,
    accel: accel === null ? none.accel : { columns: [...accel.columns], unit: accel.unit },
    gyro: gyro === null ? none.gyro : { columns: [...gyro.columns], unit: gyro.unit },
  };
}
