/** The first person at a server that runs as a process of its own: who started it, and does everything there. */
import { readFile } from 'node:fs/promises';
import type { Account, Me } from '../../shared/src/index.ts';
import { FIRST_LOGIN, firstPasswordFile } from '../../server/src/access/first-keeper.ts';
import { PASSWORD, Person } from './people.ts';

/** Changes the password that the server made at its first start, and takes every role that measures. */
export async function firstKeeper(url: string, dataDir: string): Promise<Person> {
  const keeper = new Person(url);
  const password = (await readFile(firstPasswordFile(dataDir), 'utf8')).trim();
  const { body: me } = await keeper.signIn(FIRST_LOGIN, password);
  await keeper.call<Me>('POST', '/api/me/password', { password, newPassword: PASSWORD });
  await keeper.call<Account>('PATCH', `/api/accounts/${me.accountId}`, { roles: ['keeper', 'coach', 'physio'] });
  return keeperAgain(url);
}

/** At a server with the same accounts, started anew or restored. */
export async function keeperAgain(url: string): Promise<Person> {
  const keeper = new Person(url);
  const { status, text } = await keeper.signIn(FIRST_LOGIN);
  if (status !== 200) throw new Error(`the keeper could not sign in: ${status} ${text}`);
  return keeper;
}
