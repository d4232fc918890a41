/** Writes down who read and changed what of whom, before it is answered. */
import type { Db } from '../store/database.ts';
import { addAuditEntry } from '../store/audit.ts';
import type { Caller } from './identity.ts';

/** A page that is open asks for the same again and again: one row tells of all it read within this time. */
export const SAME_READ_MS = 10 * 60_000;
/** More different reads than this are not remembered: they are written down again. */
const READS_REMEMBERED_MAX = 20_000;

export interface AuditedRequest {
  caller: Caller | null;
  /** `GET /api/trials/:id`: the route and never the address, which could hold anything. */
  action: string;
  athleteId: string | null;
  isRead: boolean;
  refusedStatus: number | null;
}

export class AuditLog {
  readonly #db: Db;
  readonly #nowUtcMs: () => number;
  readonly #reads = new Map<string, number>();

  constructor(db: Db, nowUtcMs: () => number) {
    this.#db = db;
    this.#nowUtcMs = nowUtcMs;
  }

  /** What somebody does with their own account; `accountId` null where it is not known whose. Rejects when it cannot be stored. */
  async noteAccount(accountId: string | null, action: string, refusedStatus: number | null = null): Promise<void> {
    const utcMs = Math.round(this.#nowUtcMs());
    await addAuditEntry(this.#db, { utcMs, accountId, action, athleteId: null, refusedStatus });
  }

  /** Rejects when it cannot be stored: what cannot be written down is not done. */
  async note({ caller, action, athleteId, isRead, refusedStatus }: AuditedRequest): Promise<void> {
    const accountId = caller === null || caller === 'open' ? null : caller.accountId;
    const utcMs = Math.round(this.#nowUtcMs());
    const key = `${accountId} ${action} ${athleteId} ${refusedStatus}`;
    if (isRead && utcMs - (this.#reads.get(key) ?? -Infinity) < SAME_READ_MS) return;
    await addAuditEntry(this.#db, { utcMs, accountId, action, athleteId, refusedStatus });
    if (!isRead) return;
    this.#reads.delete(key);
    this.#reads.set(key, utcMs);
    const [oldest] = this.#reads.keys();
    if (this.#reads.size > READS_REMEMBERED_MAX && oldest !== undefined) this.#reads.delete(oldest);
  }
}
