/** The migrations of this version, what the tables look like after each, and their use within one transaction. */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { readMigrationFiles } from 'drizzle-orm/migrator';
import type { Sql, TransactionSql } from 'postgres';

const FOLDER = new URL('./migrations/', import.meta.url);
export const MIGRATIONS_FOLDER = fileURLToPath(FOLDER);

export interface Table {
  name: string;
  /** All that are stored, without those that the database computes. */
  columns: string[];
}

export interface Migration {
  /** Its file name without `.sql`. */
  tag: string;
  /** How a database knows it: `created_at` of drizzle.__drizzle_migrations. */
  whenMs: number;
  hash: string;
  statements: string[];
}

interface Journal {
  entries: { tag: string; when: number }[];
}

interface Snapshot {
  tables: Record<
    string,
    {
      name: string;
      columns: Record<string, { name: string; generated?: unknown }>;
      foreignKeys: Record<string, { tableTo: string }>;
    }
  >;
}

/** In the order in which they are applied. */
export function listMigrations(): Migration[] {
  const { entries } = readJson<Journal>('meta/_journal.json');
  const files = readMigrationFiles({ migrationsFolder: MIGRATIONS_FOLDER });
  return files.map((file, i) => ({
    tag: entries[i]?.tag ?? '',
    whenMs: file.folderMillis,
    hash: file.hash,
    statements: file.sql,
  }));
}

/** The tables as they are after a migration, each after those that it refers to: so they can be filled in this order. */
export function tablesAfter({ tag }: Migration): Table[] {
  const { tables } = readJson<Snapshot>(`meta/${tag.slice(0, tag.indexOf('_'))}_snapshot.json`);
  const waiting = new Map(Object.values(tables).map((table) => [table.name, table]));
  const ordered: Table[] = [];
  while (waiting.size > 0) {
    const free = [...waiting.values()].filter((table) =>
      Object.values(table.foreignKeys).every(({ tableTo }) => tableTo === table.name || !waiting.has(tableTo)),
    );
    if (free.length === 0) throw new Error(`Tables refer to each other in a circle: ${[...waiting.keys()].join(', ')}`);
    for (const { name, columns } of free) {
      waiting.delete(name);
      const stored = Object.values(columns).filter((column) => column.generated === undefined);
      ordered.push({ name, columns: stored.map((column) => column.name) });
    }
  }
  return ordered;
}

/** Does what Drizzle's migrator does and leaves the same record of it, but in a transaction that holds more than that. */
export async function applyMigrations(tx: TransactionSql, migrations: readonly Migration[]): Promise<void> {
  await tx`create schema if not exists drizzle`;
  await tx`
    create table if not exists drizzle.__drizzle_migrations (id serial primary key, hash text not null, created_at bigint)`;
  for (const { statements, hash, whenMs } of migrations) {
    for (const statement of statements) await tx.unsafe(statement);
    await tx`insert into drizzle.__drizzle_migrations (hash, created_at) values (${hash}, ${whenMs})`;
  }
}

/** `created_at` of the last migration of a database; null when it has none. */
export async function lastMigrationMs(sql: Sql | TransactionSql): Promise<number | null> {
  const [record] = await sql`select to_regclass('drizzle.__drizzle_migrations') as name`;
  if (!record?.['name']) return null;
  const [last] = await sql`select max(created_at) as at from drizzle.__drizzle_migrations`;
  return last?.['at'] == null ? null : Number(last['at']);
}

export function quoted(name: string): string {
  return `"${name.replaceAll('"', '""')}"`;
}

/** For a statement that takes several tables. */
export function nameList(tables: readonly Table[]): string {
  return tables.map(({ name }) => quoted(name)).join(', ');
}

function readJson<T>(name: string): T {
  return JSON.parse(readFileSync(new URL(name, FOLDER), 'utf8')) as T;
}
