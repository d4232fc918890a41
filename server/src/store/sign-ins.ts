/** Browsers in which somebody has signed in. Each change is one statement. */
import { and, desc, eq, isNull, lt, ne, or, sql } from 'drizzle-orm';
import type { Role } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { accounts, signIns } from './schema/index.ts';

export interface FoundSignIn {
  id: string;
  accountId: string;
  name: string;
  roles: Role[];
  athleteId: string | null;
  passwordIsFirst: boolean;
  secondFactorSinceUtcMs: number | null;
  startedUtcMs: number;
  seenUtcMs: number;
  tokenUtcMs: number;
  confirmedUtcMs: number | null;
  /** The value that was asked for is the one before the newest. */
  withOld: boolean;
}

export async function addSignIn(
  db: DbOrTx,
  accountId: string,
  tokenHash: Uint8Array,
  nowUtcMs: number,
  browser: string,
): Promise<string> {
  const times = { startedUtcMs: nowUtcMs, seenUtcMs: nowUtcMs, tokenUtcMs: nowUtcMs };
  const [row] = await db
    .insert(signIns)
    .values({ accountId, tokenHash, browser, ...times })
    .returning({ id: signIns.id });
  if (!row) throw new Error('the new sign-in was not returned');
  return row.id;
}

const FOUND = {
  id: signIns.id,
  accountId: signIns.accountId,
  name: accounts.name,
  roles: accounts.roles,
  athleteId: accounts.athleteId,
  passwordIsFirst: accounts.passwordIsFirst,
  secondFactorSinceUtcMs: accounts.secondFactorSinceUtcMs,
  startedUtcMs: signIns.startedUtcMs,
  seenUtcMs: signIns.seenUtcMs,
  tokenUtcMs: signIns.tokenUtcMs,
  confirmedUtcMs: signIns.confirmedUtcMs,
};

/** Of an account that is not closed; null when there is none. */
export async function findSignInById(db: DbOrTx, id: string): Promise<Omit<FoundSignIn, 'withOld'> | null> {
  const [row] = await db
    .select(FOUND)
    .from(signIns)
    .innerJoin(accounts, eq(accounts.id, signIns.accountId))
    .where(and(eq(signIns.id, id), isNull(accounts.closedUtcMs)));
  return row ?? null;
}

/** Of an account that is not closed; null when there is none. */
export async function findSignIn(db: DbOrTx, tokenHash: Uint8Array): Promise<FoundSignIn | null> {
  const [row] = await db
    .select({ ...FOUND, withOld: sql<boolean>`${signIns.tokenHash} <> ${tokenHash}` })
    .from(signIns)
    .innerJoin(accounts, eq(accounts.id, signIns.accountId))
    .where(
      and(or(eq(signIns.tokenHash, tokenHash), eq(signIns.oldTokenHash, tokenHash)), isNull(accounts.closedUtcMs)),
    );
  return row ?? null;
}

/** The newest value has come back: the one before it is good for a moment longer only. */
export async function confirmSignIn(db: DbOrTx, id: string, nowUtcMs: number): Promise<void> {
  await db
    .update(signIns)
    .set({ confirmedUtcMs: nowUtcMs, seenUtcMs: nowUtcMs })
    .where(and(eq(signIns.id, id), isNull(signIns.confirmedUtcMs)));
}

/** False when another request was faster. `keepOld`: the value before stays the one that is known to have arrived. */
export async function rotateSignIn(
  db: DbOrTx,
  { id, tokenUtcMs }: Pick<FoundSignIn, 'id' | 'tokenUtcMs'>,
  tokenHash: Uint8Array,
  nowUtcMs: number,
  { keepOld }: { keepOld: boolean },
): Promise<boolean> {
  const rows = await db
    .update(signIns)
    .set({
      tokenHash,
      tokenUtcMs: nowUtcMs,
      confirmedUtcMs: null,
      seenUtcMs: nowUtcMs,
      ...(keepOld ? {} : { oldTokenHash: sql`${signIns.tokenHash}` }),
    })
    .where(and(eq(signIns.id, id), eq(signIns.tokenUtcMs, tokenUtcMs)))
    .returning({ id: signIns.id });
  return rows.length > 0;
}

export async function signInSeen(db: DbOrTx, id: string, nowUtcMs: number): Promise<void> {
  await db.update(signIns).set({ seenUtcMs: nowUtcMs }).where(eq(signIns.id, id));
}

export async function endSignIn(db: DbOrTx, id: string): Promise<void> {
  await db.delete(signIns).where(eq(signIns.id, id));
}

export interface SignInRow {
  id: string;
  startedUtcMs: number;
  seenUtcMs: number;
  browser: string;
}

/** Of an account, the newest use first. */
export async function listSignIns(db: DbOrTx, accountId: string): Promise<SignInRow[]> {
  const { id, startedUtcMs, seenUtcMs, browser } = signIns;
  return db
    .select({ id, startedUtcMs, seenUtcMs, browser })
    .from(signIns)
    .where(eq(signIns.accountId, accountId))
    .orderBy(desc(seenUtcMs), desc(startedUtcMs), id);
}

/** One of this account. False when it has none such. */
export async function endSignInOf(db: DbOrTx, accountId: string, id: string): Promise<boolean> {
  const rows = await db
    .delete(signIns)
    .where(and(eq(signIns.id, id), eq(signIns.accountId, accountId)))
    .returning({ id: signIns.id });
  return rows.length > 0;
}

export async function endOtherSignIns(db: DbOrTx, accountId: string, keepId: string): Promise<void> {
  await db.delete(signIns).where(and(eq(signIns.accountId, accountId), ne(signIns.id, keepId)));
}

export async function removeOldSignIns(db: DbOrTx, startedBeforeUtcMs: number, seenBeforeUtcMs: number): Promise<void> {
  await db
    .delete(signIns)
    .where(or(lt(signIns.startedUtcMs, startedBeforeUtcMs), lt(signIns.seenUtcMs, seenBeforeUtcMs)));
}
