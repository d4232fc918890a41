/** The first account: made at the first start, its password in a file that only the machine's user can read. */
import { readFile, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { FIRST_PASSWORD_DAYS } from '@ambipede/shared';
import { addFirstAccount, listAccounts, setPassword } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import { hashOfPassword, newFirstPassword } from './passwords.ts';

export const FIRST_LOGIN = 'keeper';
const FIRST_PASSWORD_MS = FIRST_PASSWORD_DAYS * 24 * 3_600_000;

export function firstPasswordFile(dataDir: string): string {
  return path.join(dataDir, 'keeper-password');
}

/**
 * A first password that ran out before anybody used it is replaced at the next start.
 * @returns the file with the password, while it has not been changed; null afterwards
 */
export async function makeFirstKeeper(db: Db, dataDir: string, nowUtcMs: number): Promise<string | null> {
  const file = firstPasswordFile(dataDir);
  const accounts = await listAccounts(db);
  if (accounts.length > 0) {
    await removeFirstPassword(db, dataDir);
    if ((await readFile(file, 'utf8').catch(() => null)) === null) return null;
    const unused = accounts.find(({ login, passwordIsFirst }) => login === FIRST_LOGIN && passwordIsFirst);
    if (unused && nowUtcMs - unused.passwordSetUtcMs >= FIRST_PASSWORD_MS) {
      const passwordHash = await hashOfPassword(await writeFirstPassword(file));
      await setPassword(db, unused.id, { passwordHash, passwordIsFirst: true, setUtcMs: Math.round(nowUtcMs) }, null);
    }
    return file;
  }
  // The file first: an account whose password nobody knows would be in the way.
  const password = await writeFirstPassword(file);
  await addFirstAccount(db, {
    ...{ login: FIRST_LOGIN, name: 'Keeper', roles: ['keeper'], athleteId: null },
    ...{ passwordHash: await hashOfPassword(password), passwordIsFirst: true },
    ...{ createdUtcMs: Math.round(nowUtcMs), closedUtcMs: null },
  });
  return file;
}

async function writeFirstPassword(file: string): Promise<string> {
  const password = newFirstPassword();
  await rm(file, { force: true });
  await writeFile(file, `${password}\n`, { mode: 0o600, flag: 'wx' });
  return password;
}

/** Once the password has been changed, the one in the file is worth nothing. */
export async function removeFirstPassword(db: Db, dataDir: string): Promise<void> {
  const first = (await listAccounts(db)).find(({ login }) => login === FIRST_LOGIN);
  if (!first?.passwordIsFirst) await rm(firstPasswordFile(dataDir), { force: true });
}
