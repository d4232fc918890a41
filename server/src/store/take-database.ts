/** The database that the settings name, running and locked for this process alone: for the server, or for a command in its place. */
import type { Config } from '../config.ts';
import { SetupError, messageOf } from '../errors.ts';
import { startEmbeddedPostgres } from './embedded-postgres/supervisor.ts';
import type { Log } from './embedded-postgres/supervisor.ts';
import { takeServerLock } from './server-lock.ts';

export type DatabasePlace = Pick<Config, 'dataDir' | 'databaseUrl'>;

export interface TakenDatabase {
  url: string;
  /** Gives the lock back, and ends PostgreSQL when it is our own. */
  close(): Promise<void>;
}

/** How a person knows it. */
export function describePlace({ dataDir, databaseUrl }: DatabasePlace): string {
  return databaseUrl === null ? `the data folder ${dataDir}` : 'the database of DATABASE_URL';
}

/**
 * Makes the data folder when there is none. Throws SetupError when a server has the database, or when it cannot be reached.
 * @param onLost another server has taken the database: stop at once.
 */
export async function takeDatabase(
  place: DatabasePlace,
  log: Log,
  onLost: (problem: string) => void,
): Promise<TakenDatabase> {
  const own = place.databaseUrl === null ? await startEmbeddedPostgres(place.dataDir, log) : null;
  const url = own?.url ?? place.databaseUrl ?? '';
  const what = describePlace(place);
  try {
    const lock = await takeServerLock(url, what, onLost);
    return {
      url,
      close: async () => {
        await lock.release();
        await own?.stop();
      },
    };
  } catch (error) {
    // Somebody else's, as far as we know: leave it running.
    own?.leave();
    throw error instanceof SetupError ? error : new SetupError(`Cannot use ${what}: ${messageOf(error)}`);
  }
}
