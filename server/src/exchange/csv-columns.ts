/** Guesses what the columns of a table are, from their names and their first values. A person looks at it before it counts. */
import {
  PLACES,
  TIME_UNITS,
  type AccelUnit,
  type AxisColumns,
  type GyroUnit,
  type ImportPreview,
  type Place,
  type TimeUnit,
} from '@ambipede/shared';
import { RATE_MAX_HZ, RATE_MIN_HZ } from '../stance/contacts.ts';
import { PLACE_SYNONYMS } from './bids-channels.ts';
import { PLAUSIBLE } from './sensor-plausible.ts';

type Kind = 'accel' | 'gyro';
type Axis = 'x' | 'y' | 'z';

interface Named {
  column: number;
  kind: Kind;
  axis: Axis;
  place: Place | null;
}

const SECONDS: Record<TimeUnit, number> = { s: 1, ms: 1e-3, us: 1e-6 };
const KIND: [Kind, RegExp][] = [
  ['gyro', /gyr|angular|omega|(^|[^a-z])(rate|rot)|^[gw][xyz]([^a-z]|$)|(^|[^a-z])[gw][xyz]$/],
  ['accel', /acc|force|(^|[^a-z])a[xyz]([^a-z]|$)/],
];
const TIME = /^(sample[ _-]?)?(time|timestamp|latency|elapsed|t)([^a-z]|$)/;
const TIME_UNIT: [TimeUnit, RegExp][] = [
  ['us', /[^a-z](us|µs|μs|microseconds?)([^a-z]|$)/],
  ['ms', /[^a-z](ms|milliseconds?)([^a-z]|$)/],
  ['s', /[^a-z](s|sec|seconds?)([^a-z]|$)/],
];
const ACCEL_UNIT: [AccelUnit, RegExp][] = [
  ['m/s2', /m\/s|m·s|mps2/],
  ['mg', /[^a-z]mg([^a-z]|$)/],
  ['g', /[^a-z]g([^a-z]|$)/],
];
const GYRO_UNIT: [GyroUnit, RegExp][] = [
  ['deg/s', /deg|°|dps/],
  ['rad/s', /rad/],
];
/** Middles of accelerations at rest are told apart by these, in whatever unit: about 1 g, 9.8 m/s^2 or 1000 mg. */
const ACCEL_UNIT_UP_TO: [AccelUnit, number][] = [
  ['g', 3],
  ['m/s2', 100],
  ['mg', Infinity],
];

/** @param rows of numbers, NaN where there is none */
export function guessColumns(
  names: readonly string[],
  rows: readonly number[][],
): Pick<ImportPreview, 'guess'>['guess'] {
  const lower = names.map((name) => name.toLowerCase());
  const found = lower.flatMap((name, column) => namedAs(name, column) ?? []);
  const places = [...PLACES, null].filter((place) => found.some((each) => each.place === place));
  const sensors = places.map((place) => {
    const axes = (kind: Kind): AxisColumns | null => {
      const of = (axis: Axis): number | undefined =>
        found.find((each) => each.place === place && each.kind === kind && each.axis === axis)?.column;
      const [x, y, z] = [of('x'), of('y'), of('z')];
      return x === undefined || y === undefined || z === undefined ? null : [x, y, z];
    };
    const accel = axes('accel');
    const gyro = axes('gyro');
    return {
      place,
      accel: accel && { columns: accel, unit: unitIn(lower[accel[0]]!, ACCEL_UNIT) ?? accelUnitOf(rows, accel) },
      gyro: gyro && { columns: gyro, unit: unitIn(lower[gyro[0]]!, GYRO_UNIT) ?? gyroUnitOf(rows, gyro) },
    };
  });
  return { time: guessTime(lower, rows), sensors };
}

function namedAs(name: string, column: number): Named | null {
  const kind = KIND.find(([, pattern]) => pattern.test(name))?.[0];
  // The last letter of that kind: "acc_x", "ax", "AccelerationX (g)".
  const axis = /([xyz])(?=[^a-z]*$|[^a-z]+[^xyz]*$)/.exec(name)?.[1] as Axis | undefined;
  if (kind === undefined || axis === undefined) return null;
  const words = name.split(/[^a-z0-9]+/);
  const place = PLACES.find((each) =>
    PLACE_SYNONYMS[each].some((synonym) => words.includes(synonym) || (synonym.length > 4 && name.includes(synonym))),
  );
  return { column, kind, axis, place: place ?? null };
}

function unitIn<Unit>(name: string, patterns: readonly [Unit, RegExp][]): Unit | null {
  return patterns.find(([, pattern]) => pattern.test(name))?.[0] ?? null;
}

function accelUnitOf(rows: readonly number[][], columns: AxisColumns): AccelUnit {
  const middle = medianOf(rows.map((row) => Math.hypot(...columns.map((column) => row[column] ?? NaN))));
  return ACCEL_UNIT_UP_TO.find(([, most]) => !(middle > most))![0];
}

function gyroUnitOf(rows: readonly number[][], columns: AxisColumns): GyroUnit {
  const isSlow = rows.every((row) =>
    columns.every((column) => !(Math.abs(row[column] ?? 0) > PLAUSIBLE.movingRadPerS * 10)),
  );
  return isSlow ? 'rad/s' : 'deg/s';
}

/** A column of that name, or the first one that rises in every row with a rate that a sensor can have. */
function guessTime(names: readonly string[], rows: readonly number[][]): ImportPreview['guess']['time'] {
  const named = names.findIndex((name) => TIME.test(name));
  const candidates = named === -1 ? names.map((_, column) => column) : [named];
  for (const column of candidates) {
    const steps = rows.slice(1).map((row, i) => (row[column] ?? NaN) - (rows[i]![column] ?? NaN));
    if (named === -1 && !steps.every((step) => step > 0)) continue;
    const step = medianOf(steps);
    const isRate = (unit: TimeUnit): boolean =>
      1 / (step * SECONDS[unit]) >= RATE_MIN_HZ && 1 / (step * SECONDS[unit]) <= RATE_MAX_HZ;
    const unit = unitIn(names[column]!, TIME_UNIT) ?? TIME_UNITS.find(isRate);
    if (unit !== undefined) return { column, unit };
  }
  return null;
}

function medianOf(values: readonly number[]): number {
  const known = values.filter((value) => Number.isFinite(value)).sort((a, b) => a - b);
  return known[known.length >> 1] ?? NaN;
}
