/** What the beginning of a file shows: how it is written, what its columns seem to be, and what is wrong or missing. */
import {
  IMPORT_COLUMNS_MAX,
  type CsvColumns,
  type CsvMapping,
  type ImportPreview,
  type ImportPreviewRequest,
} from '@ambipede/shared';
import { guessColumns } from './csv-columns.ts';
import { guessFormat, namesOf } from './csv-format.ts';
import { cellsOf, linesOf, numberIn } from './csv-lines.ts';
import { readCsvSamples } from './csv-recording.ts';
import { RecordingError } from './recording-error.ts';
import { doubtAtRest, doubtsOf, faultOf } from './sensor-plausible.ts';

const ROWS_SHOWN = 8;

/** @throws RecordingError when the text holds no table of values */
export function previewOf({ name, text: given, mapping, format: asked }: ImportPreviewRequest): ImportPreview {
  // A line that is cut in the middle is not what the file says.
  const text = given.slice(0, given.lastIndexOf('\n') + 1) || given;
  const format = mapping ?? asked ?? guessFormat(text);
  if (format === null)
    throw new RecordingError(
      `${name} does not look like a table of a sensor: no line has six numbers or more, parted by comma, semicolon or tab. Export it as CSV.`,
    );
  const { delimiter, decimal, firstLine } = format;
  const cells = [...linesOf(text)]
    .filter(({ number }) => number >= firstLine)
    .map(({ line }) => cellsOf(line, delimiter));
  const [first] = cells;
  if (!first) throw new RecordingError(`${name} has no line ${firstLine}: choose another first row.`);
  if (first.length > IMPORT_COLUMNS_MAX)
    throw new RecordingError(`${name} has ${first.length} columns; at most ${IMPORT_COLUMNS_MAX} are read.`);
  const columns = namesOf(text, format, first.length);
  const values = cells.map((row) => row.map((cell) => numberIn(cell, decimal) ?? NaN));
  const guess = guessColumns(columns, values);
  const mappings = mapping ? [mapping] : completeOnes(guess, format);
  const read = mappings.map((each) => look(text, each, name));
  return {
    format: { delimiter, decimal, firstLine },
    columns,
    rows: cells.slice(0, ROWS_SHOWN),
    guess,
    rateHz: read[0]?.rateHz ?? null,
    problems: [...new Set([...(mapping ? [] : missingIn(guess)), ...read.flatMap(({ problems }) => problems)])],
  };
}

type Guess = ImportPreview['guess'];

function completeOnes({ time, sensors }: Guess, format: CsvMapping | Omit<CsvMapping, keyof CsvColumns>): CsvMapping[] {
  if (time === null) return [];
  return sensors.flatMap(({ accel, gyro }) => (accel && gyro ? [{ ...format, time, accel, gyro }] : []));
}

function missingIn({ time, sensors }: Guess): string[] {
  const missing: string[] = [];
  if (time === null)
    missing.push('No column of time was recognised. Choose it, or give the rate if the rows are evenly spaced.');
  if (!sensors.some(({ accel }) => accel))
    missing.push('The three columns of acceleration were not recognised. Choose them.');
  if (!sensors.some(({ gyro }) => gyro))
    missing.push(
      'The three columns of the turning rates (gyroscope) were not recognised. Choose them; without them left and right cannot be told.',
    );
  return missing;
}

function look(text: string, mapping: CsvMapping, name: string): { rateHz: number | null; problems: string[] } {
  try {
    const { samples, rateHz, rowsLost } = readCsvSamples(text, mapping, name);
    const fault = faultOf(samples);
    const problems = fault === null ? [doubtAtRest(samples), ...doubtsOf(samples)] : [fault];
    if (rowsLost > 0) problems.push(`Values are missing in ${rowsLost} of the first rows: they count as lost samples.`);
    return { rateHz, problems: problems.filter((problem) => problem !== null) };
  } catch (error) {
    if (error instanceof RecordingError) return { rateHz: null, problems: [error.message] };
    throw error;
  }
}
