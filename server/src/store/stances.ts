/** The kept stances of a trial's final result. */
import { asc, eq } from 'drizzle-orm';
import type { Stance } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { stances } from './schema/index.ts';

export async function listStances(db: DbOrTx, trialId: string): Promise<Stance[]> {
  const rows = await db
    .select()
    .from(stances)
    .where(eq(stances.trialId, trialId))
    .orderBy(asc(stances.initialContact), asc(stances.id));
  return rows.map(({ trialId: _trialId, ...stance }) => stance);
}
