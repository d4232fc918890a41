/** The first account: made at the first start, its password in a file that only the machine's user can read. */
import { readFile, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { addFirstAccount, listAccounts } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import { hashOfPassword, newFirstPassword } from './passwords.ts';

export const FIRST_LOGIN = 'keeper';

export function firstPasswordFile(dataDir: string): string {
  return path.join(dataDir, 'keeper-password');
}

/** @returns the file with the password, while it has not been changed; null afterwards */
export async function makeFirstKeeper(db: Db, dataDir: string, nowUtcMs: number): Promise<string | null> {
  const file = firstPasswordFile(dataDir);
  const accounts = await listAccounts(db);
  if (accounts.length > 0) {
    await removeFirstPassword(db, dataDir);
    return (await readFile(file, 'utf8').catch(() => null)) === null ? null : file;
  }
  const password = newFirstPassword();
  // The file first: an account whose password nobody knows would be in the way.
  await rm(file, { force: true });
  await writeFile(file, `${password}\n`, { mode: 0o600, flag: 'wx' });
  await addFirstAccount(db, {
    ...{ login: FIRST_LOGIN, name: 'Keeper', roles: ['keeper'], athleteId: null },
    ...{ passwordHash: await hashOfPassword(password), passwordIsFirst: true },
    ...{ createdUtcMs: Math.round(nowUtcMs), closedUtcMs: null },
  });
  return file;
}

/** Once the password has been changed, the one in the file is worth nothing. */
export async function removeFirstPassword(db: Db, dataDir: string): Promise<void> {
  const first = (await listAccounts(db)).find(({ login }) => login === FIRST_LOGIN);
  if (!first?.passwordIsFirst) await rm(firstPasswordFile(dataDir), { force: true });
}
