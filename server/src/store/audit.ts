/** Who read or changed what of whom: only added to. */
import { and, desc, eq, lt } from 'drizzle-orm';
import { AUDIT_PAGE_ENTRIES, type AuditEntry } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { accounts, audit } from './schema/index.ts';

export type NewAuditEntry = Pick<AuditEntry, 'utcMs' | 'accountId' | 'action' | 'athleteId' | 'refusedStatus'>;

export async function addAuditEntry(db: DbOrTx, entry: NewAuditEntry): Promise<void> {
  await db.insert(audit).values(entry);
}

/** Newest first, those before `beforeId`: a page. */
export async function pageOfAudit(
  db: DbOrTx,
  { athleteId, beforeId }: { athleteId?: string; beforeId?: number },
): Promise<AuditEntry[]> {
  const rows = await db
    .select({
      id: audit.id,
      utcMs: audit.utcMs,
      accountId: audit.accountId,
      accountName: accounts.name,
      action: audit.action,
      athleteId: audit.athleteId,
      refusedStatus: audit.refusedStatus,
    })
    .from(audit)
    .leftJoin(accounts, eq(accounts.id, audit.accountId))
    .where(
      and(
        athleteId === undefined ? undefined : eq(audit.athleteId, athleteId),
        beforeId === undefined ? undefined : lt(audit.id, beforeId),
      ),
    )
    .orderBy(desc(audit.id))
    .limit(AUDIT_PAGE_ENTRIES);
  return rows;
}
