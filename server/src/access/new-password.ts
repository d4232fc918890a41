/** A new first password for an account, given at the machine itself. */
import { SetupError } from '../errors.ts';
import { listAccounts, setPassword } from '../store/accounts.ts';
import { addAuditEntry } from '../store/audit.ts';
import type { Db } from '../store/database.ts';
import { hashOfPassword, newFirstPassword } from './passwords.ts';

/** As it is written into the audit. */
export const ACTION = 'new password given at the machine';

/** All sign-ins of the account end. @throws SetupError for a login that there is not */
export async function giveNewPassword(db: Db, login: string, nowUtcMs: number): Promise<string> {
  const accounts = await listAccounts(db);
  const account = accounts.find((each) => each.login === login.trim().toLowerCase());
  if (!account)
    throw new SetupError(`There is no account ${login}. There are: ${accounts.map((each) => each.login).join(', ')}.`);
  const password = newFirstPassword();
  // Written down first: what cannot be written down is not done.
  const entry = { accountId: account.id, action: ACTION, athleteId: null, refusedStatus: null };
  await addAuditEntry(db, { utcMs: Math.round(nowUtcMs), ...entry });
  await setPassword(db, account.id, { passwordHash: await hashOfPassword(password), passwordIsFirst: true }, null);
  return password;
}
