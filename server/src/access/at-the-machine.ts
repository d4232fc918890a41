/** What whoever can use the machine itself does with an account that nobody can sign in to any more. */
import { rm } from 'node:fs/promises';
import type { Account } from '@ambipede/shared';
import { SetupError } from '../errors.ts';
import { listAccounts, setPassword } from '../store/accounts.ts';
import { addAuditEntry } from '../store/audit.ts';
import type { Db } from '../store/database.ts';
import { removeSecondFactor } from '../store/second-factor.ts';
import { FIRST_LOGIN, firstPasswordFile } from './first-keeper.ts';
import { hashOfPassword, newFirstPassword } from './passwords.ts';

/** As they are written into the audit. */
export const ACTIONS = {
  password: 'new password given at the machine',
  secondFactor: 'second factor taken away at the machine',
} as const;

/** All sign-ins of the account end. @throws SetupError for a login that there is not, or whose account is closed */
export async function giveNewPassword(
  db: Db,
  typedLogin: string,
  dataDir: string,
  nowUtcMs: number,
): Promise<{ login: string; password: string }> {
  const { id, login } = await requireOpenAccount(db, typedLogin);
  const password = newFirstPassword();
  // Written down first: what cannot be written down is not done.
  await note(db, id, ACTIONS.password, nowUtcMs);
  const passwordHash = await hashOfPassword(password);
  await setPassword(db, id, { passwordHash, passwordIsFirst: true, setUtcMs: Math.round(nowUtcMs) }, null);
  // What it holds is no longer the password, and the next start of the server would send people to it.
  if (login === FIRST_LOGIN) await rm(firstPasswordFile(dataDir), { force: true });
  return { login, password };
}

/** All sign-ins of the account end. @throws SetupError also for an account without a second factor */
export async function takeSecondFactorAway(db: Db, typedLogin: string, nowUtcMs: number): Promise<{ login: string }> {
  const { id, login, secondFactorSinceUtcMs } = await requireOpenAccount(db, typedLogin);
  if (secondFactorSinceUtcMs === null) throw new SetupError(`The account ${login} has no second factor.`);
  await note(db, id, ACTIONS.secondFactor, nowUtcMs);
  await removeSecondFactor(db, id, null);
  return { login };
}

async function requireOpenAccount(db: Db, typedLogin: string): Promise<Account> {
  const accounts = await listAccounts(db);
  const account = accounts.find(({ login }) => login === typedLogin.trim().toLowerCase());
  if (!account)
    throw new SetupError(
      `There is no account ${typedLogin}. There are: ${accounts.map(({ login }) => login).join(', ')}.`,
    );
  if (account.closedUtcMs !== null)
    throw new SetupError(
      `The account ${account.login} is closed: nobody can sign in with it. A keeper opens it again on the page Accounts.`,
    );
  return account;
}

async function note(db: Db, accountId: string, action: string, nowUtcMs: number): Promise<void> {
  await addAuditEntry(db, { utcMs: Math.round(nowUtcMs), accountId, action, athleteId: null, refusedStatus: null });
}
