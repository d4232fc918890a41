/** A simulated sensor's samples as the table that some logger might write, in its own units and manner. */
import type { Columns } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { DEG_PER_RAD, STANDARD_GRAVITY_MPS2, type CsvMapping } from '../../shared/src/index.ts';

export interface CsvStyle {
  delimiter: string;
  decimal: ',' | '.';
  header: readonly string[];
  /** Digits after the decimal mark: of ms, g and deg/s. */
  digits: { time: number; accel: number; gyro: number };
  eol: string;
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

export function csvOf({ tS, ax, ay, az, gx, gy, gz }: Columns, style: CsvStyle = COMMAS): string {
  const { digits, decimal, delimiter, eol } = style;
  const text = (value: number, places: number): string => value.toFixed(places).replace('.', decimal);
  const lines = Array.from(tS, (t, k) =>
    [
      text(t * 1000, digits.time),
      ...[ax, ay, az].map((of) => text(of[k]! / STANDARD_GRAVITY_MPS2, digits.accel)),
      ...[gx, gy, gz].map((of) => text(of[k]! * DEG_PER_RAD, digits.gyro)),
    ].join(delimiter),
  );
  return [style.header.join(delimiter), ...lines, ''].join(eol);
}
