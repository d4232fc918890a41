/** Puts an archive together and its file in place: complete, on disk and read back, or not there at all. */
import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';
import path from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import { SetupError, messageOf } from '../errors.ts';
import { verifyArchive } from './archive-reader.ts';
import { END_OF_ROWS, countLines } from './archive-format.ts';
import type { ArchiveEnd, ArchiveHeader, ArchiveSummary, TableEnd, TableHeader } from './archive-format.ts';
import type { Table } from '../store/migration-list.ts';

/** @param rowsOf rows of a table as COPY writes them in its text format */
export async function* archiveOf(
  header: ArchiveHeader,
  tables: readonly Table[],
  rowsOf: (table: Table) => AsyncIterable<Buffer>,
): AsyncGenerator<Buffer | string> {
  const told = createHash('sha256');
  const tell = (value: ArchiveHeader | TableHeader | TableEnd): string => {
    const line = `${JSON.stringify(value)}\n`;
    told.update(line);
    return line;
  };
  yield tell(header);
  for (const table of tables) {
    yield tell({ table: table.name, columns: table.columns });
    const sha256 = createHash('sha256');
    let rows = 0;
    for await (const piece of rowsOf(table)) {
      rows += countLines(piece);
      sha256.update(piece);
      yield piece;
    }
    yield END_OF_ROWS;
    yield tell({ rows, sha256: sha256.digest('hex') });
  }
  yield `${JSON.stringify({ tables: tables.length, sha256: told.digest('hex') } satisfies ArchiveEnd)}\n`;
}

/** Throws SetupError when the file is there already or cannot be written. */
export async function writeArchive(
  file: string,
  content: AsyncIterable<Buffer | string>,
  signal?: AbortSignal,
): Promise<ArchiveSummary> {
  refuseExisting(file);
  // Beside its place, so that the renaming stays on one disk.
  const unfinished = `${file}.unfinished-${process.pid}`;
  try {
    // Opened before anything can be stopped: a stream that opens its file itself may do so after the clearing up.
    // Names and movement of people: for whoever ran the command alone.
    const handle = await open(unfinished, 'wx', 0o600);
    const sink = handle.createWriteStream();
    await pipeline(Readable.from(content), createGzip(), sink, { ...(signal && { signal }) });
    await syncToDisk(unfinished);
    const summary = await verifyArchive(unfinished);
    refuseExisting(file);
    await rename(unfinished, file);
    await syncToDisk(path.dirname(file));
    return summary;
  } catch (error) {
    await rm(unfinished, { force: true });
    const { code, syscall } = error as NodeJS.ErrnoException;
    // Anything of the file system; the database's errors have codes too, but no system call.
    if (code !== undefined && syscall !== undefined && syscall !== 'connect') {
      throw new SetupError(`The backup could not be written to ${file}: ${messageOf(error)}. Nothing was left there.`);
    }
    throw error;
  }
}

export function refuseExisting(file: string): void {
  if (existsSync(file)) {
    throw new SetupError(`${file} is there already. Give the backup a name of its own, or remove that file first.`);
  }
}

async function syncToDisk(target: string): Promise<void> {
  const handle = await open(target, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}
