/** PostgreSQL refuses to run as root: which user runs it, and how does that user reach its files? */
import { execFile } from 'node:child_process';
import { stat } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { SetupError } from '../../errors.ts';

const run = promisify(execFile);

/** User and group ids for `spawn`; null: run as whoever runs this server. */
export type RunAs = { uid: number; gid: number; name: string; passesClosedFolders?: boolean } | null;

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

/**
 * Lets the user pass to `target`. Under a folder that is closed to others (a home of root, say) PostgreSQL gets
 * the one privilege to pass and read closed folders, through `setpriv` of util-linux; it still is an unprivileged user.
 * Throws SetupError naming the first closed folder when that cannot be had.
 */
export async function withReach(runAs: RunAs, target: string): Promise<RunAs> {
  if (!runAs) return null;
  const closed = await firstClosedFolder(target, runAs);
  if (closed === null) return runAs;
  const passing = { ...runAs, passesClosedFolders: true };
  const probe = commandAs(passing, 'true', []);
  try {
    await run(probe.file, probe.args, probe.options);
  } catch {
    throw new SetupError(
      `The folder ${closed} is closed to the user "${runAs.name}", who runs PostgreSQL because this server runs as root, ` +
        `and ${target} lies in it. Run the server as an ordinary user, or move to an open folder, ` +
        `or open the way with: chmod o+x '${closed}'`,
    );
  }
  return passing;
}

/** The first folder on the way to `target` that the user may not pass; null when there is none. */
export async function firstClosedFolder(target: string, user: { uid: number; gid: number }): Promise<string | null> {
  for (const folder of ancestors(target)) {
    const { mode, uid, gid } = await stat(folder);
    const executeBit = uid === user.uid ? 0o100 : gid === user.gid ? 0o010 : 0o001;
    if (!(mode & executeBit)) return folder;
  }
  return null;
}

export interface Command {
  file: string;
  args: string[];
  options: { uid?: number; gid?: number };
}

/** How to start a program as that user. The process id is that of the program itself. */
export function commandAs(runAs: RunAs, program: string, args: readonly string[]): Command {
  if (!runAs) return { file: program, args: [...args], options: {} };
  const { uid, gid } = runAs;
  if (!runAs.passesClosedFolders) return { file: program, args: [...args], options: { uid, gid } };
  const user = ['--reuid', String(uid), '--regid', String(gid), '--clear-groups'];
  const privilege = ['--inh-caps', '+dac_read_search', '--ambient-caps', '+dac_read_search'];
  return { file: 'setpriv', args: [...user, ...privilege, '--', program, ...args], options: {} };
}

/** From the root down to the folder that holds `target`. */
function ancestors(target: string): string[] {
  const folders: string[] = [];
  for (let folder = path.dirname(path.resolve(target)); ; folder = path.dirname(folder)) {
    folders.unshift(folder);
    if (folder === path.dirname(folder)) return folders;
  }
}
