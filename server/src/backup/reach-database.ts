/** The database that the settings name, for a command that runs beside the server or in its place. */
import { existsSync } from 'node:fs';
import type { Config } from '../config.ts';
import { SetupError } from '../errors.ts';
import { clusterPaths } from '../store/embedded-postgres/cluster.ts';
import { startEmbeddedPostgres } from '../store/embedded-postgres/supervisor.ts';
import { takeServerLock } from '../store/server-lock.ts';

type Place = Pick<Config, 'dataDir' | 'databaseUrl'>;

export interface Reached {
  url: string;
  close(): Promise<void>;
}

const quiet = { info: () => undefined, error: () => undefined };

/** How a person knows it. */
export function describePlace({ dataDir, databaseUrl }: Place): string {
  return databaseUrl === null ? `the data folder ${dataDir}` : 'the database of DATABASE_URL';
}

/** For reading, while a server may use it. Throws SetupError when there is none. */
export async function reachForReading({ dataDir, databaseUrl }: Place): Promise<Reached> {
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

/** In the place of a server, and never beside one. Makes the data folder when there is none. */
export async function reachAlone(place: Place, onLost: (problem: string) => void): Promise<Reached> {
  const own = place.databaseUrl === null ? await startEmbeddedPostgres(place.dataDir, quiet) : null;
  const url = own?.url ?? place.databaseUrl ?? '';
  const lock = await takeServerLock(url, describePlace(place), onLost).catch((error: unknown) => {
    own?.leave();
    throw error;
  });
  return {
    url,
    close: async () => {
      await lock.release();
      await own?.stop();
    },
  };
}
