/** The second factor of an account. Each change is one statement. */
import { and, eq, isNotNull, isNull, lt, or, sql } from 'drizzle-orm';
import type { DbOrTx } from './database.ts';
import { accounts, signIns } from './schema/index.ts';

/** Sets it (in the place of one that there was) and ends all sign-ins of the account but `keepSignInId`. */
export async function setSecondFactor(
  db: DbOrTx,
  accountId: string,
  { key, sinceUtcMs, step }: { key: Uint8Array; sinceUtcMs: number; step: number },
  keepSignInId: string,
): Promise<void> {
  await db.execute(sql`
    with ended as (
      delete from ${signIns} where ${signIns.accountId} = ${accountId} and ${signIns.id} <> ${keepSignInId}
    )
    update ${accounts} set second_factor_key = ${key}, second_factor_since_utc_ms = ${sinceUtcMs}::bigint,
      second_factor_step = ${step}::bigint where ${accounts.id} = ${accountId}`);
}

/** Ends all sign-ins of the account but `keepSignInId`. False when there was none. */
export async function removeSecondFactor(db: DbOrTx, accountId: string, keepSignInId: string | null): Promise<boolean> {
  const rows = await db.execute(sql`
    with changed as (
      update ${accounts} set second_factor_key = null, second_factor_since_utc_ms = null, second_factor_step = null
      where ${and(eq(accounts.id, accountId), isNotNull(accounts.secondFactorKey))} returning id
    ), ended as (
      delete from ${signIns} using changed
      where ${signIns.accountId} = changed.id and ${signIns.id} is distinct from ${keepSignInId}::uuid
    )
    select id from changed`);
  return rows.length > 0;
}

/** False when a code of this time step, or of a later one, has been taken before: also by a request at the same moment. */
export async function takeStep(db: DbOrTx, accountId: string, step: number): Promise<boolean> {
  const rows = await db
    .update(accounts)
    .set({ secondFactorStep: step })
    .where(and(eq(accounts.id, accountId), or(isNull(accounts.secondFactorStep), lt(accounts.secondFactorStep, step))))
    .returning({ id: accounts.id });
  return rows.length > 0;
}
