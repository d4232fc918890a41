/** People who may sign in. Each change is one statement. */
import { and, asc, eq, isNull, sql } from 'drizzle-orm';
import type { Account, Role } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { accounts, signIns } from './schema/index.ts';

const SHOWN = {
  id: accounts.id,
  login: accounts.login,
  name: accounts.name,
  roles: accounts.roles,
  athleteId: accounts.athleteId,
  createdUtcMs: accounts.createdUtcMs,
  closedUtcMs: accounts.closedUtcMs,
  passwordIsFirst: accounts.passwordIsFirst,
  passwordSetUtcMs: accounts.passwordSetUtcMs,
  secondFactorSinceUtcMs: accounts.secondFactorSinceUtcMs,
};

/** A new account, its password set as it is made. */
export type AccountRow = Omit<Account, 'id' | 'passwordSetUtcMs' | 'secondFactorSinceUtcMs'> & { passwordHash: string };

/** Null when the login is taken. */
export async function addAccount(db: DbOrTx, account: AccountRow): Promise<Account | null> {
  const [row] = await db
    .insert(accounts)
    .values({ ...account, passwordSetUtcMs: account.createdUtcMs })
    .onConflictDoNothing({ target: accounts.login })
    .returning(SHOWN);
  return row ?? null;
}

/** Null when there is an account already: another process was faster. */
export async function addFirstAccount(db: DbOrTx, { roles, ...account }: AccountRow): Promise<{ id: string } | null> {
  const { login, name, passwordHash, passwordIsFirst, createdUtcMs } = account;
  const rows = await db.execute<{ id: string }>(sql`
    insert into ${accounts} (login, name, roles, password_hash, password_is_first, created_utc_ms, password_set_utc_ms)
    select ${login}, ${name}, ${`{${roles.join(',')}}`}::text[], ${passwordHash}, ${passwordIsFirst}, ${createdUtcMs}::bigint, ${createdUtcMs}::bigint
    where not exists (select from ${accounts})
    on conflict (login) do nothing returning id`);
  return rows[0] ?? null;
}

/** By name. */
export async function listAccounts(db: DbOrTx): Promise<Account[]> {
  return db.select(SHOWN).from(accounts).orderBy(asc(accounts.name), asc(accounts.id));
}

export async function findAccount(db: DbOrTx, id: string): Promise<Account | null> {
  const [row] = await db.select(SHOWN).from(accounts).where(eq(accounts.id, id));
  return row ?? null;
}

export interface Proofs {
  id: string;
  passwordHash: string;
  passwordIsFirst: boolean;
  passwordSetUtcMs: number;
  secondFactorKey: Uint8Array | null;
}

/** What has to be shown to sign in; of an account that is not closed, null when there is none. */
export async function findProofs(db: DbOrTx, login: string): Promise<Proofs | null> {
  const { id, passwordHash, passwordIsFirst, passwordSetUtcMs, secondFactorKey } = accounts;
  const [row] = await db
    .select({ id, passwordHash, passwordIsFirst, passwordSetUtcMs, secondFactorKey })
    .from(accounts)
    .where(and(eq(accounts.login, login), isNull(accounts.closedUtcMs)));
  return row ?? null;
}

/** Sets a password and ends all sign-ins of the account but `keepSignInId`. Null when there is no such account. */
export async function setPassword(
  db: DbOrTx,
  id: string,
  { passwordHash, passwordIsFirst, setUtcMs }: { passwordHash: string; passwordIsFirst: boolean; setUtcMs: number },
  keepSignInId: string | null,
): Promise<Account | null> {
  const rows = await db.execute(sql`
    with ended as (
      delete from ${signIns} where ${signIns.accountId} = ${id} and ${signIns.id} is distinct from ${keepSignInId}::uuid
    )
    update ${accounts} set password_hash = ${passwordHash}, password_is_first = ${passwordIsFirst},
      password_set_utc_ms = ${setUtcMs}::bigint where ${accounts.id} = ${id}
    returning id`);
  return rows.length === 0 ? null : findAccount(db, id);
}

/** What is not named stays; other roles, or `closedUtcMs`, end every sign-in. False where it would leave no keeper, or there is no account. */
export async function changeAccount(
  db: DbOrTx,
  id: string,
  { name, roles, closedUtcMs }: { name?: string; roles?: readonly Role[]; closedUtcMs?: number | null },
): Promise<boolean> {
  const ends = roles !== undefined || (closedUtcMs !== undefined && closedUtcMs !== null);
  const keeperStays = sql`(exists (
      select from ${accounts} as other where other.id <> ${id} and other.closed_utc_ms is null and 'keeper' = any(other.roles)
    ) or (${roles === undefined ? sql`'keeper' = any(roles)` : sql`${roles.includes('keeper')}::boolean`}
      and ${closedUtcMs === undefined ? sql`closed_utc_ms is null` : sql`${closedUtcMs === null}::boolean`})
    or not ('keeper' = any(roles) and closed_utc_ms is null))`;
  const rows = await db.execute(sql`
    with changed as (
      update ${accounts} set
        name = coalesce(${name ?? null}, name),
        roles = coalesce(${roles === undefined ? null : `{${roles.join(',')}}`}::text[], roles),
        closed_utc_ms = ${closedUtcMs === undefined ? sql`closed_utc_ms` : sql`${closedUtcMs}::bigint`}
      where id = ${id} and ${keeperStays} returning id
    ), ended as (
      delete from ${signIns} using changed where ${signIns.accountId} = changed.id and ${ends}::boolean
    )
    select id from changed`);
  return rows.length > 0;
}

export async function countAccounts(db: DbOrTx): Promise<number> {
  return db.$count(accounts);
}
