/** Athletes and what the roster shows of each. */
import { and, asc, count, eq, isNull, max } from 'drizzle-orm';
import type { DbOrTx } from './database.ts';
import { athletes, sessions, trials } from './schema/index.ts';

export interface AthleteRow {
  id: string;
  name: string;
  openSessionId: string | null;
  lastTrialUtcMs: number | null;
  trialCount: number;
}

export async function createAthlete(db: DbOrTx, name: string, nowUtcMs: number): Promise<AthleteRow> {
  const [row] = await db.insert(athletes).values({ name, createdUtcMs: nowUtcMs }).returning();
  if (!row) throw new Error('the new athlete was not returned');
  return { id: row.id, name: row.name, openSessionId: null, lastTrialUtcMs: null, trialCount: 0 };
}

export async function listAthletes(db: DbOrTx): Promise<AthleteRow[]> {
  const open = db.$with('open').as(db.select().from(sessions).where(isNull(sessions.endedUtcMs)));
  const done = db.$with('done').as(
    db
      .select({
        athleteId: sessions.athleteId,
        lastTrialUtcMs: max(trials.startedUtcMs).as('last_trial'),
        trialCount: count().as('trial_count'),
      })
      .from(trials)
      .innerJoin(sessions, eq(trials.sessionId, sessions.id))
      .groupBy(sessions.athleteId),
  );
  const rows = await db
    .with(open, done)
    .select({
      id: athletes.id,
      name: athletes.name,
      openSessionId: open.id,
      lastTrialUtcMs: done.lastTrialUtcMs,
      trialCount: done.trialCount,
    })
    .from(athletes)
    .leftJoin(open, eq(open.athleteId, athletes.id))
    .leftJoin(done, eq(done.athleteId, athletes.id))
    .orderBy(asc(athletes.name), asc(athletes.id));
  return rows.map((row) => ({
    ...row,
    lastTrialUtcMs: row.lastTrialUtcMs === null ? null : Number(row.lastTrialUtcMs),
    trialCount: row.trialCount ?? 0,
  }));
}

export async function athleteExists(db: DbOrTx, id: string): Promise<boolean> {
  const rows = await db
    .select({ id: athletes.id })
    .from(athletes)
    .where(and(eq(athletes.id, id)));
  return rows.length > 0;
}
