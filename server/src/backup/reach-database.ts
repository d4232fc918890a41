/** The database that the settings name, for a command that runs beside the server or in its place. */
import { existsSync } from 'node:fs';
import { SetupError } from '../errors.ts';
import { clusterPaths } from '../store/embedded-postgres/cluster.ts';
import { startEmbeddedPostgres } from '../store/embedded-postgres/supervisor.ts';
import { takeServerLock } from '../store/server-lock.ts';
import { takeDatabase, type DatabasePlace, type TakenDatabase } from '../store/take-database.ts';

const quiet = { info: () => undefined, error: () => undefined };

/** Beside a server that may be using it. Throws SetupError when there is none. */
export async function reachBeside({ dataDir, databaseUrl }: DatabasePlace): Promise<TakenDatabase> {
  if (databaseUrl !== null) return { url: databaseUrl, close: () => Promise.resolve() };
  if (!existsSync(clusterPaths(dataDir).folder)) {
    throw new SetupError(
      `There is no database in the data folder ${dataDir}. Set DATA_DIR to the folder of the server.`,
    );
  }
  const own = await startEmbeddedPostgres(dataDir, quiet);
  // A server that stops it meanwhile means it: it is not started again from here.
  own.leave();
  return {
    url: own.url,
    close: async () => {
      if (own.adopted) return;
      // A server may have started and taken it over; the lock tells.
      const lock = await takeServerLock(own.url, '', () => undefined).catch(() => null);
      if (!lock) return;
      await lock.release();
      await own.stop();
    },
  };
}

/** In the place of a server, and never beside one. */
export function reachAlone(place: DatabasePlace, onLost: (problem: string) => void): Promise<TakenDatabase> {
  return takeDatabase(place, quiet, onLost);
}
