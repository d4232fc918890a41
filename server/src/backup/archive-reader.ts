/** Reads an archive from front to end and believes nothing in it: what is handed out is only good once the end is reached. */
import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { createGunzip } from 'node:zlib';
import { SetupError } from '../errors.ts';
import { ArchiveLines } from './archive-lines.ts';
import { ArchiveFault, FORMAT, FORMAT_VERSION, countLines } from './archive-format.ts';
import type { ArchiveEnd, ArchiveHeader, ArchiveSummary, TableEnd, TableHeader } from './archive-format.ts';

/** Who uses the archive. Each call is awaited before the reading goes on. */
export interface ArchiveUser {
  onHeader(header: ArchiveHeader): Promise<void> | void;
  /** `rows` gives pieces of whole lines and has to be read to its end. */
  onTable(table: TableHeader, rows: AsyncIterable<Buffer>): Promise<void>;
}

/**
 * Throws SetupError, naming the file, for anything but a whole archive of a format that this version knows; never while a
 * call to the user is under way, so that nothing of it comes after the end.
 */
export async function readArchive(file: string, user: ArchiveUser): Promise<ArchiveSummary> {
  const packed = createReadStream(file);
  const source = createGunzip();
  // Seen by the next read; a pipeline would tell at once.
  packed.on('error', (error) => source.destroy(error));
  source.on('error', () => packed.destroy());
  try {
    return await readLines(new ArchiveLines(packed.pipe(source)), user);
  } catch (error) {
    throw inWords(file, error);
  } finally {
    packed.destroy();
    source.destroy();
  }
}

/** Reads all of it and keeps nothing. */
export function verifyArchive(file: string): Promise<ArchiveSummary> {
  return readArchive(file, {
    onHeader: () => undefined,
    onTable: async (_table, rows) => {
      for await (const _piece of rows);
    },
  });
}

async function readLines(lines: ArchiveLines, user: ArchiveUser): Promise<ArchiveSummary> {
  const told = createHash('sha256');
  const next = async (): Promise<unknown> => {
    const line = await lines.line();
    if (line === null) throw new ArchiveFault('ends too early');
    const value = parse(line);
    // The last line holds the checksum of those before it.
    if (!isEnd(value)) told.update(`${line}\n`);
    return value;
  };
  const first = await next().catch((error: unknown) => {
    if (error instanceof ArchiveFault) return null;
    throw error;
  });
  const header = asHeader(first);
  await user.onHeader(header);
  const rows: Record<string, number> = {};
  for (;;) {
    const value = await next();
    if (isEnd(value)) {
      const found = { tables: Object.keys(rows).length, sha256: told.digest('hex') };
      if (value.tables !== found.tables || value.sha256 !== found.sha256) throw new ArchiveFault('is damaged');
      if ((await lines.line()) !== null) throw new ArchiveFault('goes on after its end');
      return { header, rows };
    }
    if (!isTable(value) || rows[value.table] !== undefined) throw new ArchiveFault('is damaged');
    const counted = new CountedRows(lines.rows());
    await user.onTable(value, counted);
    const end = await next();
    if (!counted.matches(end)) throw new ArchiveFault(`is damaged in the table ${value.table}`);
    rows[value.table] = counted.rows;
  }
}

class CountedRows implements AsyncIterable<Buffer> {
  rows = 0;
  readonly #source: AsyncIterable<Buffer>;
  readonly #sha256 = createHash('sha256');

  constructor(source: AsyncIterable<Buffer>) {
    this.#source = source;
  }

  async *[Symbol.asyncIterator](): AsyncGenerator<Buffer> {
    for await (const piece of this.#source) {
      this.rows += countLines(piece);
      this.#sha256.update(piece);
      yield piece;
    }
  }

  matches(end: unknown): boolean {
    const { rows, sha256 } = (end ?? {}) as Partial<TableEnd>;
    return rows === this.rows && sha256 === this.#sha256.digest('hex');
  }
}

function parse(line: string): unknown {
  try {
    return JSON.parse(line);
  } catch {
    throw new ArchiveFault('is damaged');
  }
}

function asHeader(value: unknown): ArchiveHeader {
  const header = (value ?? {}) as Partial<ArchiveHeader>;
  if (header.format !== FORMAT) throw new ArchiveFault('is not a backup of Ambipede');
  if (header.formatVersion !== FORMAT_VERSION) {
    throw new ArchiveFault(
      `has format ${String(header.formatVersion)}, and this version of Ambipede reads ${FORMAT_VERSION}: install the version that wrote it, or a later one`,
    );
  }
  if (typeof header.migration !== 'string' || typeof header.createdUtcMs !== 'number') {
    throw new ArchiveFault('is damaged in its first line');
  }
  return header as ArchiveHeader;
}

function isTable(value: unknown): value is TableHeader {
  const { table, columns } = (value ?? {}) as Partial<TableHeader>;
  return typeof table === 'string' && Array.isArray(columns) && columns.every((column) => typeof column === 'string');
}

function isEnd(value: unknown): value is ArchiveEnd {
  return typeof (value as Partial<ArchiveEnd> | null)?.tables === 'number';
}

function inWords(file: string, error: unknown): unknown {
  const { code, message } = error as NodeJS.ErrnoException;
  const say = (what: string): SetupError =>
    new SetupError(`${file} ${what}. Nothing was restored from it: take another copy or another backup.`);
  if (error instanceof ArchiveFault) return say(message);
  if (code === 'Z_BUF_ERROR') return say('ends too early');
  if (code?.startsWith('Z_')) {
    return say(message === 'incorrect header check' ? 'is not a backup of Ambipede' : 'is damaged');
  }
  if (code === 'ENOENT') return new SetupError(`There is no file ${file}.`);
  if (code === 'EISDIR' || code === 'EACCES') return new SetupError(`${file} cannot be read: ${message}.`);
  return error;
}
