/**
 * The archive of a backup: gzip (RFC 1952) around UTF-8 lines.
 *
 *   {"format":"ambipede-backup","formatVersion":1,"migration":"0001_more-stance-metrics","createdUtcMs":1795615309976}
 *   {"table":"athletes","columns":["id","name","created_utc_ms"]}
 *   one line per row, as PostgreSQL's COPY writes it in its text format (PostgreSQL manual, COPY, "Text Format")
 *   \.
 *   {"rows":2,"sha256":"..."}           SHA-256 (FIPS 180-4) over the row lines, line ends included
 *   ... the other tables ...
 *   {"tables":10,"sha256":"..."}        SHA-256 over all lines in braces before this one, line ends included
 *
 * Text rather than COPY's binary format: it passes from one major version of PostgreSQL to the next, and a person can read it.
 */
export const FORMAT = 'ambipede-backup';
export const FORMAT_VERSION = 1;
/** Ends the rows of a table. In a row a backslash is doubled, so that no row looks like this. */
export const END_OF_ROWS = '\\.\n';
/** The longest row that is believed. */
export const LINE_BYTES_MAX = 64 * 2 ** 20;

export interface ArchiveHeader {
  format: typeof FORMAT;
  formatVersion: number;
  /** Name of the last migration of the database that was backed up. */
  migration: string;
  createdUtcMs: number;
}

export interface TableHeader {
  table: string;
  columns: string[];
}

/** `rows` may be 0. */
export interface TableEnd {
  rows: number;
  sha256: string;
}

export interface ArchiveEnd {
  tables: number;
  sha256: string;
}

export interface ArchiveSummary {
  header: ArchiveHeader;
  /** Rows by table, in the order of the archive. */
  rows: Record<string, number>;
}

/** What is wrong with the file, as the end of a sentence that begins with its name. */
export class ArchiveFault extends Error {
  override name = 'ArchiveFault';
}

export function countLines(chunk: Uint8Array): number {
  let lines = 0;
  for (let at = chunk.indexOf(10); at !== -1; at = chunk.indexOf(10, at + 1)) lines += 1;
  return lines;
}

export function rowsInAll({ rows }: ArchiveSummary): number {
  return Object.values(rows).reduce((sum, count) => sum + count, 0);
}
