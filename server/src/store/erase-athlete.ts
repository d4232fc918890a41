/** Takes an athlete out of every table. What is left is told in docs/privacy.md. */
import { eq, sql as query } from 'drizzle-orm';
import type { Db } from './database.ts';
import { sensors } from './schema/index.ts';

/** Rows that one statement removes: a statement is not to take long, and years of samples are many. */
const BATCHES_AT_A_TIME = 5000;

/** The athlete's sensors are free from now on: what they send belongs to nobody. */
export async function freeSensors(db: Db, athleteId: string): Promise<void> {
  await db.update(sensors).set({ athleteId: null, place: null }).where(eq(sensors.athleteId, athleteId));
}

/**
 * Samples that were stored as the athlete's, and those of their sessions that were stored as nobody's (from before the sensor was placed).
 * @returns how many samples are gone
 */
export async function eraseSamples(db: Db, athleteId: string): Promise<number> {
  let samples = 0;
  for (;;) {
    const [gone] = await db.execute<{ batches: number; samples: string }>(query`
      with gone as (
        delete from raw_batches where (device_id, boot_id, first_sequence) in (
          select device_id, boot_id, first_sequence from raw_batches where athlete_id = ${athleteId}
          union all
          (select raw.device_id, raw.boot_id, raw.first_sequence
            from sessions join session_sensors on session_sensors.session_id = sessions.id
            join raw_batches as raw on raw.device_id = session_sensors.device_id
              and raw.end_utc_ms > sessions.started_utc_ms
              and (raw.first_utc_ms < sessions.ended_utc_ms or sessions.ended_utc_ms is null)
            where sessions.athlete_id = ${athleteId} and raw.athlete_id is null)
          limit ${BATCHES_AT_A_TIME}
        ) returning count
      )
      select count(*)::int as batches, coalesce(sum(count), 0)::text as samples from gone`);
    samples += Number(gone?.samples ?? 0);
    if (!gone || gone.batches === 0) return samples;
  }
}

/** How many rows of each kind are gone; null when there is no such athlete. All of them, or none. */
export async function eraseRows(db: Db, athleteId: string): Promise<Record<string, number> | null> {
  const [row] = await db.execute<{ counts: string }>(query`
    with athlete as (delete from athletes where id = ${athleteId} returning id),
      session as (select id from sessions where athlete_id = ${athleteId}),
      trial as (select trials.id from trials join session on session.id = trials.session_id),
      episode as (select id from return_episodes where athlete_id = ${athleteId})
    select json_build_object(
      'athletes', (select count(*) from athlete),
      'sessions', (select count(*) from session),
      'trials', (select count(*) from trial),
      'stances', (select count(*) from stances join trial on trial.id = stances.trial_id),
      'annotations', (select count(*) from annotations where athlete_id = ${athleteId}),
      'return episodes', (select count(*) from episode),
      'return decisions', (select count(*) from return_decisions join episode on episode.id = return_decisions.episode_id),
      'consents', (select count(*) from consents where athlete_id = ${athleteId}),
      'accounts', (select count(*) from accounts where athlete_id = ${athleteId})
    )::text as counts`);
  const counts = JSON.parse(row?.counts ?? '{}') as Record<string, number>;
  return counts['athletes'] ? counts : null;
}
