/** Removes what is older than the keeper wants it kept: at the start of the server, after a change, and once a day. */
import type { Retention } from '@ambipede/shared';
import { messageOf } from '../errors.ts';
import type { Db } from '../store/database.ts';
import { findRetention, removeOlderThan, setRetention } from '../store/retention.ts';
import { Turns } from './turns.ts';

const EVERY_MS = 24 * 3_600_000;

export interface RetentionDependencies {
  db: Db;
  nowUtcMs: () => number;
  onProblem: (text: string) => void;
}

export class RetentionService {
  readonly #deps: RetentionDependencies;
  readonly #turns = new Turns();
  #timer: NodeJS.Timeout | undefined;

  constructor(deps: RetentionDependencies) {
    this.#deps = deps;
  }

  begin(): void {
    this.#timer = setInterval(() => void this.#removeSoon(), EVERY_MS);
    this.#timer.unref();
    void this.#removeSoon();
  }

  async close(): Promise<void> {
    clearInterval(this.#timer);
    await this.#turns.take(async () => undefined);
  }

  find(): Promise<Retention> {
    return findRetention(this.#deps.db);
  }

  /** What is now too old is gone when this resolves. */
  async set(months: number | null): Promise<Retention> {
    const { db, nowUtcMs } = this.#deps;
    await setRetention(db, months, Math.round(nowUtcMs()));
    await this.remove();
    return this.find();
  }

  /** Rejects when the store does not answer; the next time does the rest. */
  remove(): Promise<void> {
    const { db, nowUtcMs } = this.#deps;
    return this.#turns.take(async () => {
      const { months } = await findRetention(db);
      if (months !== null) await removeOlderThan(db, monthsBefore(nowUtcMs(), months));
    });
  }

  async #removeSoon(): Promise<void> {
    await this.remove().catch((error: unknown) =>
      this.#deps.onProblem(`What is older than the retention allows could not be removed yet: ${messageOf(error)}`),
    );
  }
}

/** The same day and time so many months earlier, UTC; the last day of that month where it is shorter. */
export function monthsBefore(utcMs: number, months: number): number {
  const at = new Date(utcMs);
  const day = at.getUTCDate();
  at.setUTCDate(1);
  at.setUTCMonth(at.getUTCMonth() - months);
  const daysInMonth = new Date(Date.UTC(at.getUTCFullYear(), at.getUTCMonth() + 1, 0)).getUTCDate();
  at.setUTCDate(Math.min(day, daysInMonth));
  return at.getTime();
}
