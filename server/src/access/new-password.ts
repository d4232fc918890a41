/** A new first password for an account, given at the machine itself. */
import { rm } from 'node:fs/promises';
import { SetupError } from '../errors.ts';
import { listAccounts, setPassword } from '../store/accounts.ts';
import { addAuditEntry } from '../store/audit.ts';
import type { Db } from '../store/database.ts';
import { FIRST_LOGIN, firstPasswordFile } from './first-keeper.ts';
import { hashOfPassword, newFirstPassword } from './passwords.ts';

/** As it is written into the audit. */
export const ACTION = 'new password given at the machine';

/** All sign-ins of the account end. @throws SetupError for a login that there is not, or whose account is closed */
export async function giveNewPassword(
  db: Db,
  typedLogin: string,
  dataDir: string,
  nowUtcMs: number,
): Promise<{ login: string; password: string }> {
  const accounts = await listAccounts(db);
  const account = accounts.find(({ login }) => login === typedLogin.trim().toLowerCase());
  if (!account)
    throw new SetupError(
      `There is no account ${typedLogin}. There are: ${accounts.map(({ login }) => login).join(', ')}.`,
    );
  const { id, login } = account;
  if (account.closedUtcMs !== null)
    throw new SetupError(
      `The account ${login} is closed: nobody can sign in with it. A keeper opens it again on the page Accounts.`,
    );
  const password = newFirstPassword();
  // Written down first: what cannot be written down is not done.
  const entry = { accountId: id, action: ACTION, athleteId: null, refusedStatus: null };
  await addAuditEntry(db, { utcMs: Math.round(nowUtcMs), ...entry });
  await setPassword(db, id, { passwordHash: await hashOfPassword(password), passwordIsFirst: true }, null);
  // What it holds is no longer the password, and the next start of the server would send people to it.
  if (login === FIRST_LOGIN) await rm(firstPasswordFile(dataDir), { force: true });
  return { login, password };
}
