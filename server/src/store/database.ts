/** Connections to PostgreSQL, and the migrations that bring it up to this version. */
import { drizzle } from 'drizzle-orm/postgres-js';
import type { PostgresJsDatabase } from 'drizzle-orm/postgres-js';
import { migrate } from 'drizzle-orm/postgres-js/migrator';
import postgres from 'postgres';
import { SetupError } from '../errors.ts';
import { MIGRATIONS_FOLDER, lastMigrationMs, listMigrations } from './migration-list.ts';
import * as schema from './schema/index.ts';

const CONNECTIONS_MAX = 8;
const CONNECT_WAIT_S_MAX = 10;
/** A statement that takes longer is a fault, not a slow query: it is ended so that whoever waits can try again. */
const STATEMENT_MS_MAX = 60_000;
const CLOSE_WAIT_S_MAX = 5;

/**
 * The driver would ask for the types of arrays on each new connection, and nobody hears when that fails: a database that dies
 * at this moment would end the process. Arrays are written as text instead (array-literal.ts).
 */
export const FETCH_TYPES = false;

/** Name of this process's connections, seen in pg_stat_activity; server-lock.ts looks for it. */
export const POOL_NAME_PREFIX = 'ambipede pool ';

export type Sql = postgres.Sql;
export type Db = PostgresJsDatabase<typeof schema>;
/** A transaction or the database itself. */
export type DbOrTx = Db | Parameters<Parameters<Db['transaction']>[0]>[0];

export interface Database {
  db: Db;
  sql: Sql;
  close(): Promise<void>;
}

export function connect(url: string): Database {
  const sql = postgres(url, {
    max: CONNECTIONS_MAX,
    connect_timeout: CONNECT_WAIT_S_MAX,
    fetch_types: FETCH_TYPES,
    onnotice: () => undefined,
    connection: {
      application_name: POOL_NAME_PREFIX + process.pid,
      // An acknowledgement means on disk, whatever the server's default is.
      synchronous_commit: 'on',
      statement_timeout: STATEMENT_MS_MAX,
    },
  });
  return { sql, db: drizzle(sql, { schema }), close: () => sql.end({ timeout: CLOSE_WAIT_S_MAX }) };
}

/** Brings the tables up to date. Throws SetupError for a database that a newer version has written. */
export async function migrateDatabase(url: string): Promise<void> {
  const sql = postgres(url, { max: 1, connect_timeout: CONNECT_WAIT_S_MAX, onnotice: () => undefined });
  try {
    await refuseNewer(sql);
    await migrate(drizzle(sql), { migrationsFolder: MIGRATIONS_FOLDER });
  } finally {
    await sql.end({ timeout: CLOSE_WAIT_S_MAX });
  }
}

async function refuseNewer(sql: Sql): Promise<void> {
  const known = listMigrations().map(({ whenMs }) => whenMs);
  if (((await lastMigrationMs(sql)) ?? 0) <= Math.max(...known)) return;
  throw new SetupError(
    'The database was written by a newer version of Ambipede than this one. Install that version again, or restore a backup made before it.',
  );
}

/** True when a commit survives a power loss. A PostgreSQL of somebody else's may be set otherwise. */
export async function isDurable(sql: Sql): Promise<boolean> {
  const [row] =
    await sql`select current_setting('fsync') = 'on' and current_setting('full_page_writes') = 'on' as durable`;
  return row?.['durable'] === true;
}
