/** Sessions, which device sat where in them, their lead-in and mounting. */
import { and, asc, eq, isNull, sql } from 'drizzle-orm';
import type { LeadInStep, MountingReport, Place } from '@ambipede/shared';
import { arrayLiteral } from './array-literal.ts';
import type { Db, DbOrTx } from './database.ts';
import { leadInMarks, mountings, sessions, sessionSensors } from './schema/index.ts';

export interface SessionRow {
  id: string;
  athleteId: string;
  startedUtcMs: number;
  endedUtcMs: number | null;
  /** From which files; null: its sensors streamed. */
  importedFrom: string | null;
}

export interface LeadInRow {
  step: LeadInStep;
  startUtcMs: number;
  endUtcMs: number | null;
}

export async function createSession(
  db: Db,
  athleteId: string,
  devices: Partial<Record<Place, string>>,
  nowUtcMs: number,
): Promise<SessionRow> {
  const worn = Object.entries(devices);
  // One statement: the session and what is worn in it, or neither.
  const rows = await db.execute<{ id: string }>(sql`
    with begun as (
      insert into ${sessions} (athlete_id, started_utc_ms) values (${athleteId}, ${nowUtcMs}) returning id
    ), worn as (
      insert into ${sessionSensors} (session_id, place, device_id)
      select begun.id, each.place, each.device_id from begun, unnest(
        ${arrayLiteral(worn.map(([place]) => place))}::text[], ${arrayLiteral(worn.map(([, deviceId]) => deviceId))}::text[]
      ) as each (place, device_id)
    )
    select id from begun`);
  const id = rows[0]?.id;
  if (id === undefined) throw new Error('the new session was not returned');
  return { id, athleteId, startedUtcMs: nowUtcMs, endedUtcMs: null, importedFrom: null };
}

export async function addSessionSensor(db: DbOrTx, sessionId: string, place: Place, deviceId: string): Promise<void> {
  await db.insert(sessionSensors).values({ sessionId, place, deviceId });
}

export async function findSession(db: DbOrTx, id: string): Promise<SessionRow | null> {
  const [row] = await db.select().from(sessions).where(eq(sessions.id, id));
  return row ?? null;
}

export async function findOpenSession(db: DbOrTx, athleteId: string): Promise<SessionRow | null> {
  const [row] = await db
    .select()
    .from(sessions)
    .where(and(eq(sessions.athleteId, athleteId), isNull(sessions.endedUtcMs)));
  return row ?? null;
}

/** Oldest first. */
export async function listSessions(db: DbOrTx, athleteId: string): Promise<SessionRow[]> {
  return db
    .select()
    .from(sessions)
    .where(eq(sessions.athleteId, athleteId))
    .orderBy(asc(sessions.startedUtcMs), asc(sessions.id));
}

export async function listOpenSessions(db: DbOrTx): Promise<SessionRow[]> {
  return db.select().from(sessions).where(isNull(sessions.endedUtcMs)).orderBy(asc(sessions.startedUtcMs));
}

export async function endSession(db: DbOrTx, id: string, nowUtcMs: number): Promise<void> {
  await db.update(sessions).set({ endedUtcMs: nowUtcMs }).where(eq(sessions.id, id));
}

export async function sessionDevices(db: DbOrTx, sessionId: string): Promise<Partial<Record<Place, string>>> {
  const rows = await db.select().from(sessionSensors).where(eq(sessionSensors.sessionId, sessionId));
  return Object.fromEntries(rows.map((row) => [row.place, row.deviceId]));
}

export async function startLeadIn(db: DbOrTx, sessionId: string, step: LeadInStep, nowUtcMs: number): Promise<void> {
  await db.insert(leadInMarks).values({ sessionId, step, startUtcMs: nowUtcMs });
}

export async function stopLeadIn(db: DbOrTx, sessionId: string, nowUtcMs: number): Promise<void> {
  await db
    .update(leadInMarks)
    .set({ endUtcMs: nowUtcMs })
    .where(and(eq(leadInMarks.sessionId, sessionId), isNull(leadInMarks.endUtcMs)));
}

export async function dropOpenLeadIn(db: DbOrTx, sessionId: string): Promise<void> {
  await db.delete(leadInMarks).where(and(eq(leadInMarks.sessionId, sessionId), isNull(leadInMarks.endUtcMs)));
}

/** A lead-in step under way when the server ended has no end that anybody could know: it is to be repeated. */
export async function dropOpenLeadIns(db: DbOrTx): Promise<void> {
  await db.delete(leadInMarks).where(isNull(leadInMarks.endUtcMs));
}

export async function listLeadIn(db: DbOrTx, sessionId: string): Promise<LeadInRow[]> {
  return db
    .select({ step: leadInMarks.step, startUtcMs: leadInMarks.startUtcMs, endUtcMs: leadInMarks.endUtcMs })
    .from(leadInMarks)
    .where(eq(leadInMarks.sessionId, sessionId))
    .orderBy(asc(leadInMarks.id));
}

export async function saveMounting(db: DbOrTx, sessionId: string, place: Place, report: MountingReport): Promise<void> {
  const values = { ...report, quaternion: report.quaternion ? [...report.quaternion] : null };
  await db
    .insert(mountings)
    .values({ sessionId, place, ...values })
    .onConflictDoUpdate({ target: [mountings.sessionId, mountings.place], set: values });
}

export async function listMountings(db: DbOrTx, sessionId: string): Promise<Partial<Record<Place, MountingReport>>> {
  const rows = await db
    .select()
    .from(mountings)
    .where(eq(mountings.sessionId, sessionId))
    .orderBy(asc(mountings.place));
  return Object.fromEntries(
    rows.map(({ place, source, quaternion, frontalUncertaintyDeg, remarks, details }) => {
      const report: MountingReport = {
        source,
        quaternion: quaternion as MountingReport['quaternion'],
        frontalUncertaintyDeg,
        remarks,
        details,
      };
      return [place, report];
    }),
  );
}
