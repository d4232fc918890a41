/** A restore begins with nothing: it takes away the empty tables that a start of the server made, and refuses anything else. */
import type { TransactionSql } from 'postgres';
import { SetupError } from '../errors.ts';
import { lastMigrationMs, listMigrations, nameList, tablesAfter } from '../store/migration-list.ts';

/** Throws SetupError when there is a row in any table of ours, or a table of somebody else under one of our names. */
export async function clearEmptyDatabase(tx: TransactionSql, what: string): Promise<void> {
  const whenMs = await lastMigrationMs(tx);
  const known = listMigrations();
  const migration = known.find((each) => each.whenMs === whenMs);
  if (whenMs !== null && !migration) throw holdsData(what, 'tables of another version of Ambipede');
  const ours = migration ? tablesAfter(migration) : [];
  for (const { name } of ours) {
    const [row] = await tx`select exists (select from ${tx(name)}) as found`;
    if (row?.['found'] === true) throw holdsData(what, `data in the table ${name}`);
  }
  if (migration) {
    // One statement: they refer to each other. What is not ours and refers to them stops it.
    await tx.unsafe(`drop table ${nameList(ours)}`);
    await tx`drop table drizzle.__drizzle_migrations`;
  }
  const names = new Set(known.flatMap((each) => tablesAfter(each).map((table) => table.name)));
  const others =
    await tx`select tablename as name from pg_tables where schemaname = 'public' and tablename in ${tx([...names])}`;
  const [other] = others;
  if (other) throw holdsData(what, `a table ${String(other['name'])} that is not Ambipede's`);
}

function holdsData(what: string, found: string): SetupError {
  return new SetupError(
    `There is ${found} in ${what}, and a restore writes over nothing. Give it an empty place: a new DATA_DIR, or a new database ` +
      'in DATABASE_URL. What is there now stays as it is.',
  );
}
