/** Whose a session or a trial is. */
import { eq } from 'drizzle-orm';
import type { DbOrTx } from './database.ts';
import { sessions, trials } from './schema/index.ts';

export async function athleteOfStoredSession(db: DbOrTx, id: string): Promise<string | null> {
  const [row] = await db.select({ athleteId: sessions.athleteId }).from(sessions).where(eq(sessions.id, id));
  return row?.athleteId ?? null;
}

export async function athleteOfStoredTrial(db: DbOrTx, id: string): Promise<string | null> {
  const [row] = await db
    .select({ athleteId: sessions.athleteId })
    .from(trials)
    .innerJoin(sessions, eq(sessions.id, trials.sessionId))
    .where(eq(trials.id, id));
  return row?.athleteId ?? null;
}
