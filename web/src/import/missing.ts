/** What is still to be chosen before a recording can be sent, as sentences. */
import type { Place } from '@ambipede/shared';
import { IMPORT_TEXTS } from '../texts-import.ts';
import { AXES, QUANTITIES, formatOf, timeOf, type SensorChoice } from './choices.ts';
import { marksOf } from './marks.ts';
import { utcMsOfLocal } from './typed.ts';
import type { ImportDraft } from './import-draft.svelte.ts';
import type { TableDraft } from './table-draft.svelte.ts';

const words = IMPORT_TEXTS.missing;

export function missingIn({ archive, tables, task, started, marks }: ImportDraft): string[] {
  if (archive !== null)
    return started !== '' && utcMsOfLocal(started) === null ? [IMPORT_TEXTS.about.startedWrong] : [];
  if (tables.length === 0) return [words.file];
  const missing = tables.flatMap(missingInTable);
  const places = tables.flatMap(({ sensors }) => sensors.map(({ place }) => place));
  if (places.length > 0 && !places.includes(null)) missing.push(...missingOfPlaces(places));
  if (task === null) missing.push(words.task);
  if (utcMsOfLocal(started) === null) missing.push(words.started);
  if (marksOf(marks) === null) missing.push(words.marks);
  return missing;
}

function missingOfPlaces(places: readonly (Place | null)[]): string[] {
  if (new Set(places).size < places.length) return [words.samePlace];
  return places.includes('pelvis') ? [] : [words.pelvis];
}

function missingInTable(table: TableDraft): string[] {
  const { name, reading, preview, format, time, sensors } = table;
  if (reading) return [IMPORT_TEXTS.files.reading(name)];
  if (formatOf(format) === null) return [words.firstLine(name)];
  if (preview === null) return [words.table(name)];
  const missing = timeOf(time) === null ? [words.time(name)] : [];
  sensors.forEach((sensor, i) =>
    missing.push(...missingOfSensor(sensor, sensors.length === 1 ? name : words.sensorOf(name, i + 1))),
  );
  return missing;
}

function missingOfSensor(sensor: SensorChoice, name: string): string[] {
  const missing = sensor.place === null ? [words.place(name)] : [];
  for (const quantity of QUANTITIES) {
    const label = IMPORT_TEXTS.sensor.quantity[quantity];
    const { columns, unit } = sensor[quantity];
    const axes = AXES.filter((_, i) => columns[i] === null);
    if (axes.length > 0) {
      const sentence = words.columns(name, label, axes.join(', '));
      missing.push(quantity === 'gyro' ? `${sentence} ${words.gyro}` : sentence);
    } else if (unit === null) missing.push(words.unit(name, label));
  }
  return missing;
}
