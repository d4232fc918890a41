/** The kept stances of a trial's final result. */
import { asc, eq } from 'drizzle-orm';
import type { Stance } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { stances } from './schema/index.ts';

/** Rows per statement: 31 columns each, and PostgreSQL takes 65535 parameters. */
const ROWS_PER_INSERT = 500;

export async function insertStances(db: DbOrTx, trialId: string, list: readonly Stance[]): Promise<void> {
  for (let i = 0; i < list.length; i += ROWS_PER_INSERT) {
    await db.insert(stances).values(list.slice(i, i + ROWS_PER_INSERT).map((stance) => ({ trialId, ...stance })));
  }
}

export async function listStances(db: DbOrTx, trialId: string): Promise<Stance[]> {
  const rows = await db
    .select()
    .from(stances)
    .where(eq(stances.trialId, trialId))
    .orderBy(asc(stances.initialContact), asc(stances.id));
  return rows.map(({ trialId: _trialId, ...stance }) => stance);
}
