/** Who cares for whom, and what was agreed to. Each change is one statement. */
import { and, asc, desc, eq, isNull, sql } from 'drizzle-orm';
import type { Carer, Consent, ConsentPurpose } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { accounts, athletes, carers, consents } from './schema/index.ts';

export interface StoredRelation {
  caresFor: boolean;
  consents: Set<ConsentPurpose>;
}

/** How an account stands to an athlete. Null when there is no such athlete. */
export async function findRelation(db: DbOrTx, athleteId: string, accountId: string): Promise<StoredRelation | null> {
  const [row] = await db
    .select({
      caresFor: sql<boolean>`exists (select from ${carers} where ${carers.athleteId} = ${athleteId} and ${carers.accountId} = ${accountId})`,
      consents: sql<string>`(select coalesce(jsonb_agg(distinct ${consents.purpose}), '[]')::text from ${consents}
        where ${consents.athleteId} = ${athleteId} and ${consents.withdrawnUtcMs} is null)`,
    })
    .from(athletes)
    .where(eq(athletes.id, athleteId));
  return row ? { caresFor: row.caresFor, consents: new Set(JSON.parse(row.consents) as ConsentPurpose[]) } : null;
}

/** How an account stands to each athlete that it cares for, by the athlete's id. */
export async function listRelations(db: DbOrTx, accountId: string): Promise<Map<string, StoredRelation>> {
  const rows = await db
    .select({
      athleteId: carers.athleteId,
      consents: sql<string>`(select coalesce(jsonb_agg(distinct ${consents.purpose}), '[]')::text from ${consents}
        where ${consents.athleteId} = ${carers.athleteId} and ${consents.withdrawnUtcMs} is null)`,
    })
    .from(carers)
    .where(eq(carers.accountId, accountId));
  return new Map(
    rows.map(({ athleteId, consents: given }) => [
      athleteId,
      { caresFor: true, consents: new Set(JSON.parse(given) as ConsentPurpose[]) },
    ]),
  );
}

export async function listCarers(db: DbOrTx, athleteId: string): Promise<Carer[]> {
  return db
    .select({ accountId: carers.accountId, name: accounts.name, roles: accounts.roles, sinceUtcMs: carers.sinceUtcMs })
    .from(carers)
    .innerJoin(accounts, eq(accounts.id, carers.accountId))
    .where(eq(carers.athleteId, athleteId))
    .orderBy(asc(accounts.name), asc(accounts.id));
}

export async function addCarer(db: DbOrTx, athleteId: string, accountId: string, sinceUtcMs: number): Promise<void> {
  await db.insert(carers).values({ athleteId, accountId, sinceUtcMs }).onConflictDoNothing();
}

export async function removeCarer(db: DbOrTx, athleteId: string, accountId: string): Promise<boolean> {
  const rows = await db
    .delete(carers)
    .where(and(eq(carers.athleteId, athleteId), eq(carers.accountId, accountId)))
    .returning({ accountId: carers.accountId });
  return rows.length > 0;
}

/** Newest first. */
export async function listConsents(db: DbOrTx, athleteId: string): Promise<Consent[]> {
  return db
    .select()
    .from(consents)
    .where(eq(consents.athleteId, athleteId))
    .orderBy(desc(consents.givenUtcMs), desc(consents.id));
}

export async function addConsent(db: DbOrTx, consent: Omit<Consent, 'id'>): Promise<Consent> {
  const [row] = await db.insert(consents).values(consent).returning();
  if (!row) throw new Error('the new consent was not returned');
  return row;
}

/** Null when the athlete has no such consent in force. */
export async function withdrawConsent(
  db: DbOrTx,
  athleteId: string,
  id: string,
  withdrawn: { withdrawnUtcMs: number; withdrawnByName: string },
): Promise<Consent | null> {
  const [row] = await db
    .update(consents)
    .set(withdrawn)
    .where(and(eq(consents.athleteId, athleteId), eq(consents.id, id), isNull(consents.withdrawnUtcMs)))
    .returning();
  return row ?? null;
}
