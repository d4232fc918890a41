/** Whose a session or a trial is, and who wears a device. */
import { eq } from 'drizzle-orm';
import type { DbOrTx } from './database.ts';
import { sensors, sessions, trials } from './schema/index.ts';

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

/** Null when nobody does, and for a device that is not known. */
export async function wearerOf(db: DbOrTx, deviceId: string): Promise<string | null> {
  const [row] = await db.select({ athleteId: sensors.athleteId }).from(sensors).where(eq(sensors.deviceId, deviceId));
  return row?.athleteId ?? null;
}
