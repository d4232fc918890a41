/** The folder DATA_DIR/postgres: made once, whole or not at all. */
import { execFile } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { existsSync } from 'node:fs';
import { chmod, chown, mkdir, mkdtemp, readFile, rename, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { SetupError } from '../../errors.ts';
import type { PostgresBinaries } from './binaries.ts';
import { commandAs, type RunAs } from './run-as.ts';

/** Role that owns the database; it exists inside this PostgreSQL only. */
export const DATABASE_USER = 'ambipede';

/** Nothing of the operator's: messages in English, times in UTC, no setting by chance. */
export const POSTGRES_ENVIRONMENT = { LC_ALL: 'C', TZ: 'UTC' };

export interface ClusterPaths {
  /** 0700, owned by the user who runs PostgreSQL. */
  folder: string;
  data: string;
  password: string;
  log: string;
}

export function clusterPaths(dataDir: string): ClusterPaths {
  return pathsIn(path.join(path.resolve(dataDir), 'postgres'));
}

function pathsIn(folder: string): ClusterPaths {
  return {
    folder,
    data: path.join(folder, 'cluster'),
    password: path.join(folder, 'password'),
    log: path.join(folder, 'postgres.log'),
  };
}

/**
 * Makes the cluster if there is none. It is built beside its place and renamed, so that a crash or a second server
 * at the same moment leaves either no cluster or a complete one.
 */
export async function ensureCluster(paths: ClusterPaths, binaries: PostgresBinaries, runAs: RunAs): Promise<void> {
  if (existsSync(paths.folder)) return requireComplete(paths);
  const building = pathsIn(await mkdtemp(`${paths.folder}-new-`));
  try {
    await chmod(building.folder, 0o700);
    await mkdir(building.data, { mode: 0o700 });
    await writeFile(building.password, randomBytes(24).toString('base64url'), { mode: 0o600 });
    if (runAs) {
      for (const each of [building.password, building.data, building.folder]) await chown(each, runAs.uid, runAs.gid);
    }
    await initialise(building, binaries, runAs);
    await rename(building.folder, paths.folder);
  } catch (error) {
    await rm(building.folder, { recursive: true, force: true });
    if (existsSync(paths.folder)) return;
    throw error;
  }
}

function requireComplete(paths: ClusterPaths): void {
  for (const file of [path.join(paths.data, 'PG_VERSION'), paths.password]) {
    if (existsSync(file)) continue;
    throw new SetupError(
      `The database folder ${paths.folder} is damaged: ${file} is missing. Stop here and restore the folder from a backup, ` +
        'or move it away to begin with an empty database.',
    );
  }
}

async function initialise(paths: ClusterPaths, binaries: PostgresBinaries, runAs: RunAs): Promise<void> {
  const options = [
    `--pgdata=${paths.data}`,
    `--username=${DATABASE_USER}`,
    `--pwfile=${paths.password}`,
    '--auth=scram-sha-256',
    '--encoding=UTF8',
    '--locale-provider=builtin',
    '--builtin-locale=C.UTF-8',
    '--locale=C',
    '--data-checksums',
  ];
  try {
    const command = commandAs(runAs, binaries.initdb, options);
    await promisify(execFile)(command.file, command.args, {
      cwd: paths.folder,
      env: POSTGRES_ENVIRONMENT,
      ...command.options,
    });
  } catch (error) {
    const { stderr, message } = error as Error & { stderr?: string };
    throw new SetupError(`PostgreSQL could not make its folder ${paths.folder}: ${stderr?.trim() || message}`);
  }
}

export async function readPassword(paths: ClusterPaths): Promise<string> {
  return (await readFile(paths.password, 'utf8')).trim();
}
