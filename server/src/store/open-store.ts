/** From the configuration to a database that is running, locked, migrated and connected. */
import type { Config } from '../config.ts';
import { SetupError, messageOf } from '../errors.ts';
import { connect, isDurable, migrateDatabase } from './database.ts';
import type { Database } from './database.ts';
import { startEmbeddedPostgres } from './embedded-postgres/supervisor.ts';
import type { Log } from './embedded-postgres/supervisor.ts';
import { takeServerLock } from './server-lock.ts';

export interface Store {
  database: Database;
  /** Disconnects, and ends PostgreSQL when it is this server's own. */
  close(): Promise<void>;
}

/** @param onLost another server has taken the database: stop at once. */
export async function openStore(
  config: Pick<Config, 'dataDir' | 'databaseUrl'>,
  log: Log,
  onLost: (problem: string) => void,
): Promise<Store> {
  const own = config.databaseUrl === null ? await startEmbeddedPostgres(config.dataDir, log) : null;
  const url = own?.url ?? config.databaseUrl ?? '';
  const what = own ? `the data folder ${config.dataDir}` : 'the database of DATABASE_URL';
  let lock;
  try {
    lock = await takeServerLock(url, what, onLost);
  } catch (error) {
    // Somebody else's, as far as we know: leave it running.
    own?.leave();
    throw error instanceof SetupError ? error : new SetupError(`Cannot use ${what}: ${messageOf(error)}`);
  }
  const database = connect(url);
  const close = async (): Promise<void> => {
    await database.close();
    await lock.release();
    await own?.stop();
  };
  try {
    await migrateDatabase(url);
    if (!(await isDurable(database.sql))) {
      log.error(
        'This PostgreSQL runs with fsync or full_page_writes off: a power loss can destroy acknowledged samples.',
      );
    }
    return { database, close };
  } catch (error) {
    await close();
    throw error;
  }
}
