/** PostgreSQL refuses to run as root: which user runs it, and can that user reach its files? */
import { execFile } from 'node:child_process';
import { stat } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { SetupError } from '../../errors.ts';

const run = promisify(execFile);

/** User and group ids for `spawn`; null: run as whoever runs this server. */
export type RunAs = { uid: number; gid: number; name: string } | null;

/** Made when the server runs as root on a machine that has no `postgres` user. */
const CREATED_USER = 'ambipede';

/**
 * Null unless this process is root. As root: the owner of an existing database folder, else the machine's `postgres`
 * user, else a system user that is created without a home or a login.
 */
export async function chooseRunAs(databaseFolder: string): Promise<RunAs> {
  if (process.getuid?.() !== 0) return null;
  const owner = await stat(databaseFolder).catch(() => null);
  if (owner && owner.uid !== 0) return { uid: owner.uid, gid: owner.gid, name: await userName(owner.uid) };
  const existing = (await lookUp('postgres')) ?? (await lookUp(CREATED_USER));
  if (existing) return existing;
  try {
    await run('useradd', ['--system', '--no-create-home', '--shell', '/usr/sbin/nologin', CREATED_USER]);
  } catch (error) {
    throw new SetupError(
      'The server runs as root, PostgreSQL refuses to, and no user for it could be made ' +
        `(${(error as Error).message.trim()}). Run the server as an ordinary user, or create a user named ${CREATED_USER}.`,
    );
  }
  const created = await lookUp(CREATED_USER);
  if (!created)
    throw new SetupError(
      `The user ${CREATED_USER} was created but cannot be found; run the server as an ordinary user.`,
    );
  return created;
}

async function lookUp(name: string): Promise<RunAs> {
  try {
    const [uid, gid] = await Promise.all([run('id', ['-u', name]), run('id', ['-g', name])]);
    return { uid: Number(uid.stdout), gid: Number(gid.stdout), name };
  } catch {
    return null;
  }
}

async function userName(uid: number): Promise<string> {
  return run('id', ['-un', String(uid)]).then(
    (result) => result.stdout.trim(),
    () => String(uid),
  );
}

/** Throws SetupError naming the first folder on the way to `target` that the user may not pass. */
export async function requireReachable(target: string, what: string, runAs: RunAs): Promise<void> {
  if (!runAs) return;
  for (const folder of ancestors(target)) {
    const { mode, uid, gid } = await stat(folder);
    const executeBit = uid === runAs.uid ? 0o100 : gid === runAs.gid ? 0o010 : 0o001;
    if (mode & executeBit) continue;
    throw new SetupError(
      `${what} is at ${target}, but the folder ${folder} is closed to the user "${runAs.name}", who runs PostgreSQL ` +
        `because this server runs as root. Run the server as an ordinary user, or choose a DATA_DIR outside, ` +
        `or open the way with: chmod o+x '${folder}'`,
    );
  }
}

/** From the root down to the folder that holds `target`. */
function ancestors(target: string): string[] {
  const folders: string[] = [];
  for (let folder = path.dirname(path.resolve(target)); ; folder = path.dirname(folder)) {
    folders.unshift(folder);
    if (folder === path.dirname(folder)) return folders;
  }
}
