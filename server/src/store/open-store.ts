/** From the configuration to a database that is running, locked, migrated and connected. */
import { connect, isDurable, migrateDatabase } from './database.ts';
import type { Database } from './database.ts';
import type { Log } from './embedded-postgres/supervisor.ts';
import { takeDatabase, type DatabasePlace } from './take-database.ts';

export interface Store {
  database: Database;
  /** Disconnects, and ends PostgreSQL when it is this server's own. */
  close(): Promise<void>;
}

/** @param onLost another server has taken the database: stop at once. */
export async function openStore(config: DatabasePlace, log: Log, onLost: (problem: string) => void): Promise<Store> {
  const { url, close: giveBack } = await takeDatabase(config, log, onLost);
  const database = connect(url);
  const close = async (): Promise<void> => {
    await database.close();
    await giveBack();
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
