/** What has to be known of a session before something in it begins or ends, in one look. */
import { sql } from 'drizzle-orm';
import type { LeadInStep, Place } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { athletes, leadInMarks, sessions, sessionSensors, trials } from './schema/index.ts';
import type { SessionRow } from './sessions.ts';

export interface SessionNow extends SessionRow {
  /** Of the athlete as it is now. */
  bodyMassKg: number | null;
  placesWorn: Place[];
  /** The lead-in step under way. */
  openStep: { step: LeadInStep; startUtcMs: number } | null;
  runningTrialId: string | null;
}

export async function findSessionNow(db: DbOrTx, id: string): Promise<SessionNow | null> {
  const rows = await db.execute<{
    athlete_id: string;
    started: string;
    ended: string | null;
    imported_from: string | null;
    body_mass_kg: number | null;
    places: Place[];
    step: { step: LeadInStep; start: number } | null;
    trial_id: string | null;
  }>(sql`
    select ${sessions.athleteId}, ${sessions.startedUtcMs} as started, ${sessions.endedUtcMs} as ended, ${sessions.importedFrom},
      ${athletes.bodyMassKg},
      (select coalesce(jsonb_agg(place), '[]') from ${sessionSensors} where session_id = ${sessions.id}) as places,
      (select jsonb_build_object('step', step, 'start', start_utc_ms) from ${leadInMarks}
        where session_id = ${sessions.id} and end_utc_ms is null order by ${leadInMarks.id} limit 1) as step,
      (select ${trials.id} from ${trials} where session_id = ${sessions.id} and state = 'running') as trial_id
    from ${sessions} join ${athletes} on ${athletes.id} = ${sessions.athleteId} where ${sessions.id} = ${id}`);
  const [row] = rows;
  if (!row) return null;
  return {
    id,
    athleteId: row.athlete_id,
    startedUtcMs: Number(row.started),
    endedUtcMs: row.ended === null ? null : Number(row.ended),
    importedFrom: row.imported_from,
    bodyMassKg: row.body_mass_kg,
    placesWorn: row.places,
    openStep: row.step && { step: row.step.step, startUtcMs: row.step.start },
    runningTrialId: row.trial_id,
  };
}
