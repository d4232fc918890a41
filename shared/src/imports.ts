/**
 * Recordings from elsewhere. An imported recording becomes an ended session with its trials, analysed like streamed ones.
 *
 *   POST /api/import/preview                     ImportPreviewRequest -> ImportPreview      (nothing is stored)
 *   POST /api/athletes/:id/imports/csv           CsvImport -> ImportAnswer
 *   POST /api/athletes/:id/imports/motion-bids?fileName=N&task=T&startedUtcMs=M   tar -> ImportAnswer
 *
 * Of the query, `task` and `startedUtcMs` (of the first sample) are for what the archive does not say; given, they decide.
 */
import type { LeadInStep, Place, Task } from './body.ts';
import type { TrialSummary } from './api.ts';

export const IMPORT_PREVIEW_CHARACTERS_MAX = 64 * 1024;
export const IMPORT_FILE_NAME_CHARACTERS_MAX = 200;
export const IMPORT_COLUMNS_MAX = 200;
export const IMPORT_MARKS_MAX = 100;
/** Of a request with tables, as JSON: about 90 minutes of two sensors at 200 Hz. */
export const IMPORT_CSV_BYTES_MAX = 128 * 1024 * 1024;
export const IMPORT_ARCHIVE_BYTES_MAX = 256 * 1024 * 1024;
/** Foot contacts need as many samples a second; more are no sensor that is worn. */
export const SAMPLE_RATE_HZ = { min: 40, max: 2000 } as const;
/** A shorter recording holds no trial. */
export const IMPORT_SECONDS_MIN = 3;

export const DELIMITERS = [',', ';', '\t'] as const;
export const DECIMAL_MARKS = ['.', ','] as const;
export const TIME_UNITS = ['s', 'ms', 'us'] as const;
export const ACCEL_UNITS = ['m/s2', 'g', 'mg'] as const;
export const GYRO_UNITS = ['deg/s', 'rad/s'] as const;
export type Delimiter = (typeof DELIMITERS)[number];
export type DecimalMark = (typeof DECIMAL_MARKS)[number];
export type TimeUnit = (typeof TIME_UNITS)[number];
export type AccelUnit = (typeof ACCEL_UNITS)[number];
export type GyroUnit = (typeof GYRO_UNITS)[number];

/** Columns along x, y, z of the sensor, counted from 0. How it is worn does not matter: that is found from the data. */
export type AxisColumns = [x: number, y: number, z: number];

/** How the text of a file is to be read. */
export interface CsvFormat {
  delimiter: Delimiter;
  decimal: DecimalMark;
  /** Line of the first row of values, counted from 1; what is above it is skipped. */
  firstLine: number;
}

export interface CsvColumns {
  /** A column, or the rate when rows are evenly spaced and none is missing. */
  time: { column: number; unit: TimeUnit } | { rateHz: number };
  accel: { columns: AxisColumns; unit: AccelUnit };
  gyro: { columns: AxisColumns; unit: GyroUnit };
}

export type CsvMapping = CsvFormat & CsvColumns;

export interface ImportPreviewRequest {
  name: string;
  /** The beginning of the file; a last line without an end is left out. */
  text: string;
  /** What to look at the file with; without it, it is guessed. */
  mapping?: CsvMapping;
  /** How the text is to be read, where its columns are still to be guessed. */
  format?: CsvFormat;
}

export interface ImportPreview {
  format: CsvFormat;
  /** Names of the columns, or where the file has none, "1", "2" and so on. */
  columns: string[];
  /** First rows of values, as they are in the file. */
  rows: string[][];
  /** What a column seems to be, with its unit; null where nothing fits. Complete or not: what is missing is in `problems`. */
  guess: {
    time: CsvColumns['time'] | null;
    /** One per sensor that the file seems to hold. */
    sensors: { place: Place | null; accel: CsvColumns['accel'] | null; gyro: CsvColumns['gyro'] | null }[];
  };
  /** From the time column; null where it cannot be told. */
  rateHz: number | null;
  /** Plain sentences. */
  problems: string[];
}

export interface CsvSensor {
  place: Place;
  fileName: string;
  /** The whole file. Null: the same file as that of the sensor before. */
  text: string | null;
  mapping: CsvMapping;
}

/** Part of the recording, in s since its first sample. `task`: a trial. Without any, all of it is one trial. */
export interface ImportMark {
  kind: LeadInStep | 'task';
  startS: number;
  endS: number;
}

export interface CsvImport {
  task: Task;
  /** When the first sample was measured. */
  startedUtcMs: number;
  sensors: CsvSensor[];
  /** The time columns of both files count from the same moment; otherwise each begins at its first sample, and they are matched by movement. */
  oneClock?: boolean;
  marks?: ImportMark[];
}

export interface ImportAnswer {
  sessionId: string;
  /** Their final results are being made. */
  trials: TrialSummary[];
  /** Plain sentences: what was left out, and what is to be doubted. */
  remarks: string[];
}
