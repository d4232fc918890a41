/** Athletes and what the roster shows of each. */
import { asc, count, eq, isNull, max } from 'drizzle-orm';
import type { AthleteChange, AthleteDetails } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { athletes, sessions, trials } from './schema/index.ts';

export interface AthleteRow extends AthleteDetails {
  id: string;
  openSessionId: string | null;
  lastTrialUtcMs: number | null;
  trialCount: number;
}

const DETAILS = {
  id: athletes.id,
  name: athletes.name,
  bodyMassKg: athletes.bodyMassKg,
  dominantHand: athletes.dominantHand,
  preferredTakeOffFoot: athletes.preferredTakeOffFoot,
  notes: athletes.notes,
};

export async function createAthlete(
  db: DbOrTx,
  name: string,
  nowUtcMs: number,
  details: Omit<AthleteChange, 'name'> = {},
): Promise<AthleteRow> {
  const [row] = await db
    .insert(athletes)
    .values({ ...details, name, createdUtcMs: nowUtcMs })
    .returning(DETAILS);
  if (!row) throw new Error('the new athlete was not returned');
  return { ...row, openSessionId: null, lastTrialUtcMs: null, trialCount: 0 };
}

/** False when there is no such athlete. */
export async function changeAthlete(db: DbOrTx, id: string, change: AthleteChange): Promise<boolean> {
  const rows = await db.update(athletes).set(change).where(eq(athletes.id, id)).returning({ id: athletes.id });
  return rows.length > 0;
}

export async function findAthlete(db: DbOrTx, id: string): Promise<AthleteRow | null> {
  return (await listAthletes(db, id))[0] ?? null;
}

/** All of them in the order of their names, or the one. */
export async function listAthletes(db: DbOrTx, id?: string): Promise<AthleteRow[]> {
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
      ...DETAILS,
      openSessionId: open.id,
      lastTrialUtcMs: done.lastTrialUtcMs,
      trialCount: done.trialCount,
    })
    .from(athletes)
    .leftJoin(open, eq(open.athleteId, athletes.id))
    .leftJoin(done, eq(done.athleteId, athletes.id))
    .where(id === undefined ? undefined : eq(athletes.id, id))
    .orderBy(asc(athletes.name), asc(athletes.id));
  return rows.map((row) => ({
    ...row,
    lastTrialUtcMs: row.lastTrialUtcMs === null ? null : Number(row.lastTrialUtcMs),
    trialCount: row.trialCount ?? 0,
  }));
}

export async function athleteExists(db: DbOrTx, id: string): Promise<boolean> {
  const rows = await db.select({ id: athletes.id }).from(athletes).where(eq(athletes.id, id));
  return rows.length > 0;
}
