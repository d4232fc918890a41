/**
 * One server per database. The lock is PostgreSQL's advisory lock of a session, so it ends with the process that holds
 * it, also by kill -9 and on another machine; no file can be left behind.
 */
import postgres from 'postgres';
import { SetupError } from '../errors.ts';
import { FETCH_TYPES, POOL_NAME_PREFIX } from './database.ts';

const LOCK_KEY = 0x414d4249;
const NAME_PREFIX = 'ambipede server ';
const CHECK_INTERVAL_MS = 2000;
const CONNECT_WAIT_S_MAX = 10;
/** Longest wait for a transaction that a dead server left behind. */
const TERMINATE_WAIT_MS_MAX = 5000;

export interface ServerLock {
  release(): Promise<void>;
}

/**
 * Throws SetupError naming the process that has the database already.
 * @param what how a person knows the database: "DATA_DIR ./data"
 * @param onLost called once when the connection broke and another server took the lock meanwhile
 */
export async function takeServerLock(
  url: string,
  what: string,
  onLost: (problem: string) => void,
): Promise<ServerLock> {
  const sql = postgres(url, {
    max: 1,
    idle_timeout: 0,
    max_lifetime: null,
    connect_timeout: CONNECT_WAIT_S_MAX,
    fetch_types: FETCH_TYPES,
    onnotice: () => undefined,
    connection: { application_name: NAME_PREFIX + process.pid },
  });
  try {
    if (!(await hold(sql))) throw new SetupError(inUse(what, await holder(sql)));
    await endOrphans(sql);
  } catch (error) {
    await sql.end({ timeout: 1 });
    throw error;
  }
  const check = setInterval(() => {
    hold(sql).then(
      (held) => {
        if (held) return;
        clearInterval(check);
        onLost(inUse(what, null));
      },
      // The database is away; the lock is taken again when it is back.
      () => undefined,
    );
  }, CHECK_INTERVAL_MS);
  check.unref();
  return {
    release: async () => {
      clearInterval(check);
      await sql.end({ timeout: 1 });
    },
  };
}

/** Takes the lock unless this very connection has it; a new connection after a break has not. */
async function hold(sql: postgres.Sql): Promise<boolean> {
  const [row] = await sql`
    select exists (
      select from pg_locks where locktype = 'advisory' and pid = pg_backend_pid() and objid = ${LOCK_KEY}
    ) or pg_try_advisory_lock(${LOCK_KEY}) as held`;
  return row?.['held'] === true;
}

async function holder(sql: postgres.Sql): Promise<string | null> {
  const [row] = await sql`
    select application_name as name from pg_stat_activity join pg_locks using (pid)
    where locktype = 'advisory' and objid = ${LOCK_KEY} and granted and pg_stat_activity.datname = current_database()
      and pg_locks.database = pg_stat_activity.datid`;
  const name = String(row?.['name'] ?? '');
  return name.startsWith(NAME_PREFIX) ? name.slice(NAME_PREFIX.length) : null;
}

/** A server that was killed may leave a transaction that still commits: from here on nobody but us writes. */
async function endOrphans(sql: postgres.Sql): Promise<void> {
  await sql`
    select pg_terminate_backend(pid, ${TERMINATE_WAIT_MS_MAX}) from pg_stat_activity
    where datname = current_database() and application_name like ${POOL_NAME_PREFIX + '%'} and usename = current_user`;
}

function inUse(what: string, processId: string | null): string {
  const who = processId ? `Another Ambipede server (process ${processId})` : 'Another Ambipede server';
  return `${who} already uses ${what}. Stop that one first, or give this one a DATA_DIR of its own.`;
}
