/** An archive into an empty database, in one transaction: all of it, or nothing. */
import type { TransactionSql } from 'postgres';
import { SetupError } from '../errors.ts';
import { ArchiveFault } from './archive-format.ts';
import type { ArchiveHeader, ArchiveSummary, TableHeader } from './archive-format.ts';
import { readArchive } from './archive-reader.ts';
import { clearEmptyDatabase } from './empty-database.ts';
import { load } from './load.ts';
import { applyMigrations, listMigrations, tablesAfter } from '../store/migration-list.ts';
import type { Migration, Table } from '../store/migration-list.ts';
import { inTransaction } from './transaction.ts';

/**
 * The tables are made as they were when the archive was written, filled, and brought up to this version.
 * Throws SetupError for an archive that is not whole or is newer than this version, and for a database that holds data.
 * @param what how a person knows the database
 */
export async function restore(url: string, file: string, what: string, signal?: AbortSignal): Promise<ArchiveSummary> {
  return inTransaction(url, 'restore', '', async (tx) => {
    await clearEmptyDatabase(tx, what);
    let later: Migration[] = [];
    let expected: Table[] = [];
    const summary = await readArchive(file, {
      onHeader: async (header) => {
        const plan = planFor(file, header);
        await applyMigrations(tx, plan.before);
        ({ later, expected } = plan);
      },
      onTable: async (table, rows) => {
        requireSame(table, expected.shift());
        await load(tx, table, rows, signal);
      },
    });
    if (expected.length > 0) throw new SetupError(`${file} is damaged: the table ${expected[0]?.name} is missing.`);
    await setSequences(tx);
    await applyMigrations(tx, later);
    signal?.throwIfAborted();
    return summary;
  });
}

/** Throws SetupError for an archive of a version that this one does not know. */
export function planFor(
  file: string,
  { migration }: ArchiveHeader,
): { before: Migration[]; later: Migration[]; expected: Table[] } {
  const all = listMigrations();
  const at = all.findIndex((each) => each.tag === migration);
  const last = all[at];
  if (!last) {
    throw new SetupError(
      `${file} was made by a newer version of Ambipede than this one (its tables are at ${migration}). Install that version and restore with it.`,
    );
  }
  return { before: all.slice(0, at + 1), later: all.slice(at + 1), expected: tablesAfter(last) };
}

function requireSame(found: TableHeader, expected: Table | undefined): void {
  const same = expected?.name === found.table && expected.columns.join() === found.columns.join();
  if (!same) throw new ArchiveFault(`is damaged: the table ${found.table} is not as it was in that version`);
}

/** Numbers that the database gives out go on after those that are there. */
async function setSequences(tx: TransactionSql): Promise<void> {
  const columns = await tx`
    select table_name as table, column_name as column from information_schema.columns
    where table_schema = 'public' and is_identity = 'YES'`;
  for (const { table, column } of columns) {
    await tx`
      select setval(pg_get_serial_sequence(${table}, ${column}), coalesce(max(${tx(column)}), 1), max(${tx(column)}) is not null)
      from ${tx(table)}`;
  }
}
