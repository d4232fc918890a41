/** A sensor's samples as the table that some logger might write, in its own units and manner. */
import type { Columns } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { DEG_PER_RAD, STANDARD_GRAVITY_MPS2, type CsvMapping } from '../../shared/src/index.ts';

const QUANTITIES = ['tS', 'ax', 'ay', 'az', 'gx', 'gy', 'gz'] as const;
type Quantity = (typeof QUANTITIES)[number];

export interface CsvStyle {
  delimiter: string;
  decimal: ',' | '.';
  header: readonly string[];
  /** Digits after the decimal mark: of ms, g and the rates. */
  digits: { time: number; accel: number; gyro: number };
  gyroUnit?: 'deg/s' | 'rad/s';
  eol: string;
  /** Above the header. */
  preamble?: readonly string[];
  /** From left to right; `row` is a number that counts the rows from 1. */
  columns?: readonly (Quantity | 'row')[];
}

/** Semicolons and decimal commas, ms, g and deg/s: what a program writes that is set to a language with decimal commas. */
export const COMMAS: CsvStyle = {
  delimiter: ';',
  decimal: ',',
  header: ['Time (ms)', 'Acc X (g)', 'Acc Y (g)', 'Acc Z (g)', 'Gyro X (deg/s)', 'Gyro Y (deg/s)', 'Gyro Z (deg/s)'],
  digits: { time: 3, accel: 5, gyro: 3 },
  eol: '\r\n',
};

export const COMMAS_MAPPING: CsvMapping = {
  delimiter: ';',
  decimal: ',',
  firstLine: 2,
  time: { column: 0, unit: 'ms' },
  accel: { columns: [1, 2, 3], unit: 'g' },
  gyro: { columns: [4, 5, 6], unit: 'deg/s' },
};

export function csvOf(samples: Columns, style: CsvStyle = COMMAS): string {
  const { digits, decimal, delimiter, eol, gyroUnit = 'deg/s', preamble = [], columns = QUANTITIES } = style;
  const perRadian = gyroUnit === 'deg/s' ? DEG_PER_RAD : 1;
  const text = (value: number, places: number): string => value.toFixed(places).replace('.', decimal);
  const cellOf = (column: Quantity | 'row', k: number): string => {
    if (column === 'row') return String(k + 1);
    const value = samples[column][k]!;
    if (column === 'tS') return text(value * 1000, digits.time);
    return column.startsWith('a')
      ? text(value / STANDARD_GRAVITY_MPS2, digits.accel)
      : text(value * perRadian, digits.gyro);
  };
  const lines = Array.from(samples.tS, (_, k) => columns.map((column) => cellOf(column, k)).join(delimiter));
  return [...preamble, style.header.join(delimiter), ...lines, ''].join(eol);
}
