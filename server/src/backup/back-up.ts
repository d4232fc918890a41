/** One consistent picture of a database as an archive, while servers and sensors go on. */
import type { TransactionSql } from 'postgres';
import { SetupError } from '../errors.ts';
import { FORMAT, FORMAT_VERSION } from './archive-format.ts';
import type { ArchiveSummary } from './archive-format.ts';
import { copyOut } from './copy-out.ts';
import { archiveOf, writeArchive } from './archive-writer.ts';
import { lastMigrationMs, listMigrations, nameList, tablesAfter } from '../store/migration-list.ts';
import type { Migration } from '../store/migration-list.ts';
import { inTransaction } from './transaction.ts';

/** Throws SetupError for a database without tables or of a newer version, and for a file that cannot be written. */
export async function backUp(url: string, file: string, signal?: AbortSignal): Promise<ArchiveSummary> {
  // Read-only and repeatable: every table is read as it was when the first was asked for.
  return inTransaction(url, 'backup', 'isolation level repeatable read read only', async (tx) => {
    const migration = await migrationOf(tx);
    const tables = tablesAfter(migration);
    // A server that starts meanwhile must not change the tables under way.
    await tx.unsafe(`lock table ${nameList(tables)} in access share mode`);
    const header = {
      format: FORMAT,
      formatVersion: FORMAT_VERSION,
      migration: migration.tag,
      createdUtcMs: Date.now(),
    } as const;
    const content = archiveOf(header, tables, (table) => copyOut(tx, table));
    return writeArchive(file, content, signal);
  });
}

async function migrationOf(tx: TransactionSql): Promise<Migration> {
  const whenMs = await lastMigrationMs(tx);
  if (whenMs === null) throw new SetupError('There is nothing to back up: this database has no tables of Ambipede.');
  const migration = listMigrations().find((each) => each.whenMs === whenMs);
  if (migration) return migration;
  throw new SetupError(
    'The database was written by another version of Ambipede than this one. Make the backup with that version.',
  );
}
