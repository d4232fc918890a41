/** What each column of a table is taken for, in words. */
import { IMPORT_TEXTS } from '../texts-import.ts';
import { TEXTS } from '../texts.ts';
import { AXES, QUANTITIES, type SensorChoice, type TimeChoice } from './choices.ts';

/** By column; more than one where a column is chosen twice. */
export function usesOf(time: TimeChoice, sensors: readonly SensorChoice[]): Map<number, string[]> {
  const words = IMPORT_TEXTS.table;
  const uses = new Map<number, string[]>();
  const add = (column: number | null, use: string): void => {
    if (column !== null) uses.set(column, [...(uses.get(column) ?? []), use]);
  };
  if (time.kind === 'column') add(time.column, words.use.time);
  for (const sensor of sensors)
    for (const quantity of QUANTITIES)
      AXES.forEach((axis, i) => {
        const use = words.axisOf(IMPORT_TEXTS.sensor.quantity[quantity], axis);
        add(
          sensor[quantity].columns[i] ?? null,
          sensor.place === null || sensors.length === 1 ? use : words.ofPlace(use, TEXTS.place[sensor.place]),
        );
      });
  return uses;
}
