/** An imported recording into the store: raw batches in pieces, then all that points at them in one statement. */
import { sql as query } from 'drizzle-orm';
import type { ImportPlan } from '../session/import-plan.ts';
import { arrayLiteral } from './array-literal.ts';
import type { Database, Db, Sql } from './database.ts';
import { insertBatches } from './raw-batches.ts';
import { leadInMarks, sessions, sessionSensors, trials } from './schema/index.ts';

/** No device can have such an id: firmware-protocol/SPEC.md allows no colon. */
export const IMPORTED_DEVICE = 'import:';
/** Batches in one statement: some hundred kB of payload, so that no other query waits long. */
const BATCHES_PER_STATEMENT = 100;

export interface NewImport {
  athleteId: string;
  importedFrom: string;
  bodyMassKg: number | null;
  plan: ImportPlan;
}

export interface StoredImport {
  sessionId: string;
  trialIds: string[];
}

/** All or nothing. What an earlier import of the athlete left when the server ended in between is removed first. */
export async function storeImport({ sql, db }: Database, given: NewImport): Promise<StoredImport> {
  const { athleteId, plan } = given;
  await removeOrphans(sql, athleteId);
  try {
    for (const { batches } of plan.sensors)
      for (let from = 0; from < batches.length; from += BATCHES_PER_STATEMENT)
        await insertBatches(sql, batches.slice(from, from + BATCHES_PER_STATEMENT), athleteId);
    return await insertSession(db, given);
  } catch (error) {
    // Where this fails too, the next import of the athlete does it.
    await removeOrphans(sql, athleteId).catch(() => undefined);
    throw error;
  }
}

async function removeOrphans(sql: Sql, athleteId: string): Promise<void> {
  await sql`
    delete from raw_batches where athlete_id = ${athleteId} and starts_with(device_id, ${IMPORTED_DEVICE})
      and not exists (select from session_sensors where session_sensors.device_id = raw_batches.device_id)`;
}

async function insertSession(db: Db, { athleteId, importedFrom, bodyMassKg, plan }: NewImport): Promise<StoredImport> {
  const texts = (values: readonly string[]) => query`${arrayLiteral(values)}::text[]`;
  const times = (values: readonly number[]) => query`${arrayLiteral(values)}::bigint[]`;
  const { leadIn, sensors } = plan;
  const rows = await db.execute<{ session_id: string; id: string }>(query`
    with begun as (
      insert into ${sessions} (athlete_id, started_utc_ms, ended_utc_ms, imported_from)
      values (${athleteId}, ${plan.startedUtcMs}, ${plan.endedUtcMs}, ${importedFrom}) returning id
    ), worn as (
      insert into ${sessionSensors} (session_id, place, device_id)
      select begun.id, each.place, each.device_id from begun,
        unnest(${texts(sensors.map((each) => each.place))}, ${texts(sensors.map((each) => each.deviceId))})
        as each (place, device_id)
    ), marked as (
      insert into ${leadInMarks} (session_id, step, start_utc_ms, end_utc_ms)
      select begun.id, each.step, each.start_utc_ms, each.end_utc_ms from begun,
        unnest(${texts(leadIn.map((each) => each.step))}, ${times(leadIn.map((each) => each.startUtcMs))},
          ${times(leadIn.map((each) => each.endUtcMs))}) as each (step, start_utc_ms, end_utc_ms)
    )
    insert into ${trials} (session_id, task, state, started_utc_ms, ended_utc_ms, body_mass_kg)
    select begun.id, each.task, 're-analysing', each.started_utc_ms, each.ended_utc_ms, ${bodyMassKg}::double precision
    from begun, unnest(${texts(plan.trials.map((each) => each.task))}, ${times(plan.trials.map((each) => each.startedUtcMs))},
      ${times(plan.trials.map((each) => each.endedUtcMs))}) as each (task, started_utc_ms, ended_utc_ms)
    returning session_id, id`);
  const sessionId = rows[0]?.session_id;
  if (sessionId === undefined) throw new Error('the imported session was not returned');
  return { sessionId, trialIds: [...rows].map(({ id }) => id) };
}

/** When a trial of the athlete that was not discarded took place at the same time as one of these: its start, else null. */
export async function overlappingTrialUtcMs(
  db: Db,
  athleteId: string,
  spans: readonly { startedUtcMs: number; endedUtcMs: number }[],
): Promise<number | null> {
  const rows = await db.execute<{ started_utc_ms: string }>(query`
    select ${trials.startedUtcMs} as started_utc_ms from ${trials}
    join ${sessions} on ${sessions.id} = ${trials.sessionId}
    join unnest(${arrayLiteral(spans.map((each) => each.startedUtcMs))}::bigint[],
      ${arrayLiteral(spans.map((each) => each.endedUtcMs))}::bigint[]) as given (from_ms, to_ms)
      on ${trials.startedUtcMs} < given.to_ms and coalesce(${trials.endedUtcMs}, ${trials.startedUtcMs}) > given.from_ms
    where ${sessions.athleteId} = ${athleteId} and not ${trials.discarded}
    order by 1 limit 1`);
  const first = rows[0]?.started_utc_ms;
  return first === undefined ? null : Number(first);
}
