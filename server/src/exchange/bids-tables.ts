/** The text files of a recording folder: tables with and without a header, events, acquisition times. */
import { basename } from 'node:path';
import type { Mark } from '../motion/types.ts';
import { RecordingError } from './recording-error.ts';
import type { RecordingFiles } from './recording-files.ts';

/** A tab-separated file with a header row, as one record a row. */
export async function readTable(files: RecordingFiles, path: string): Promise<Record<string, string>[]> {
  const text = await files.text(path).catch(() => null);
  if (text === null) throw new RecordingError(`${basename(path)} is missing or cannot be read.`);
  const lines = text.split(/\r?\n/).filter((line) => line !== '');
  const header = (lines[0] ?? '').split('\t').map((name) => name.trim());
  return lines.slice(1).map((line) => {
    const cells = line.split('\t');
    return Object.fromEntries(header.map((name, i) => [name, (cells[i] ?? 'n/a').trim()]));
  });
}

/** Rows of numbers, no header; `n/a` (missing, by BIDS) and empty cells become NaN. */
export async function readNumbers(files: RecordingFiles, path: string, columns: number): Promise<number[][]> {
  const whole = await files.text(path);
  if (whole === null) throw new RecordingError(`${basename(path)} is missing or cannot be read.`);
  const rows: number[][] = [];
  let line = 0;
  for (const text of whole.split('\n')) {
    line += 1;
    if (text.trim() === '') continue;
    const cells = text.split('\t').map((cell) => cell.trim());
    if (cells.length !== columns) {
      throw new RecordingError(
        `${basename(path)} line ${line} has ${cells.length} columns, channels.tsv lists ${columns}. The file has no header row.`,
      );
    }
    rows.push(cells.map((cell) => toNumber(cell, path, line)));
  }
  return rows;
}

function toNumber(cell: string, path: string, line: number): number {
  if (cell === '' || cell === 'n/a') return NaN;
  const value = Number(cell);
  if (Number.isFinite(value)) return value;
  throw new RecordingError(
    `${basename(path)} line ${line} holds "${cell}", which is not a number. Write n/a for a missing value; the file has no header row.`,
  );
}

export async function readSidecar(files: RecordingFiles, path: string): Promise<Record<string, unknown>> {
  const text = await files.text(path).catch(() => null);
  if (text === null) throw new RecordingError(`${basename(path)} is missing beside its motion.tsv.`);
  try {
    return JSON.parse(text) as Record<string, unknown>;
  } catch (cause) {
    throw new RecordingError(
      `${basename(path)} is not valid JSON: ${cause instanceof Error ? cause.message : String(cause)}`,
    );
  }
}

/** Seconds on the wall clock by file name, from every *_scans.tsv. */
export async function readAcquisitionTimes(
  files: RecordingFiles,
  paths: readonly string[],
): Promise<Map<string, number>> {
  const times = new Map<string, number>();
  for (const path of paths.filter((name) => name.endsWith('_scans.tsv'))) {
    for (const row of await readTable(files, path)) {
      const text = row['acq_time'] ?? '';
      // A time without a zone is taken as UTC for all files alike: only differences count.
      const ms = Date.parse(/(Z|[+-]\d\d:?\d\d)$/.test(text) ? text : `${text}Z`);
      if (Number.isFinite(ms)) times.set(basename(row['filename'] ?? ''), ms / 1000 + subMillisecondS(text));
    }
  }
  return times;
}

/** Date.parse keeps three decimals; BIDS allows six. */
function subMillisecondS(text: string): number {
  const decimals = /\.(\d+)/.exec(text)?.[1] ?? '';
  return decimals.length > 3 ? Number(`0.000${decimals.slice(3)}`) : 0;
}

/** The event that says which span of a recording its result is for; without it, all of the recording. */
export const RESULT_SPAN = 'result_span';

/** Events of every *_events.tsv in order of time; `n/a` durations count as 0. */
export async function readMarks(files: RecordingFiles, paths: readonly string[]): Promise<Mark[]> {
  const marks: Mark[] = [];
  for (const path of paths.filter((name) => name.endsWith('_events.tsv'))) {
    for (const row of await readTable(files, path)) {
      const startS = Number(row['onset']);
      const durationS = Number(row['duration']);
      if (!Number.isFinite(startS)) continue;
      const endS = decimalSum(startS, Number.isFinite(durationS) ? durationS : 0);
      marks.push({ kind: row['trial_type'] ?? 'n/a', startS, endS });
    }
  }
  return marks.sort((a, b) => a.startS - b.startS);
}

/** To the microsecond, so that an onset and a duration of whole ms give the double of their decimal sum. */
function decimalSum(a: number, b: number): number {
  return Math.round((a + b) * 1e6) / 1e6;
}
