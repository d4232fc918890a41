/** How long sessions are kept, and the removal of older ones. Each change is one statement. */
import { min, sql as query } from 'drizzle-orm';
import type { Retention } from '@ambipede/shared';
import type { Db } from './database.ts';
import { retention, sessions } from './schema/index.ts';

/** What one statement removes at most. */
const SESSIONS_AT_A_TIME = 50;
const BATCHES_AT_A_TIME = 5000;

export interface Removed {
  sessions: number;
  samples: number;
  annotations: number;
  episodes: number;
}

export async function findRetention(db: Db): Promise<Retention> {
  const [[row], [oldest]] = await Promise.all([
    db.select({ months: retention.months }).from(retention),
    db.select({ utcMs: min(sessions.startedUtcMs) }).from(sessions),
  ]);
  return { months: row?.months ?? null, oldestUtcMs: oldest?.utcMs == null ? null : Number(oldest.utcMs) };
}

export async function setRetention(db: Db, months: number | null, changedUtcMs: number): Promise<void> {
  const row = { months, changedUtcMs };
  await db
    .insert(retention)
    .values({ id: 1, ...row })
    .onConflictDoUpdate({ target: retention.id, set: row });
}

/**
 * Sessions that ended before this time, with all in them; then the samples, annotations and return episodes of that time. An episode
 * counts from its last decision. A session that is open, and what was measured since it began, stays.
 */
export async function removeOlderThan(db: Db, utcMs: number): Promise<Removed> {
  const removed = { sessions: 0, samples: 0, annotations: 0, episodes: 0 };
  let count: number;
  do {
    count = await countOf(
      db,
      query`
      delete from sessions where id in (
        select id from sessions where ended_utc_ms < ${utcMs} order by ended_utc_ms limit ${SESSIONS_AT_A_TIME}
      ) returning 1 as n`,
    );
    removed.sessions += count;
  } while (count > 0);
  const samplesUntilUtcMs = Math.min(utcMs, (await findRetention(db)).oldestUtcMs ?? utcMs);
  for (const { device_id: deviceId } of await db.execute<{ device_id: string }>(devices)) {
    do {
      count = await countOf(
        db,
        query`
        delete from raw_batches where (device_id, boot_id, first_sequence) in (
          select device_id, boot_id, first_sequence from raw_batches
          where device_id = ${deviceId} and end_utc_ms < ${samplesUntilUtcMs} order by end_utc_ms limit ${BATCHES_AT_A_TIME}
        ) returning count as n`,
      );
      removed.samples += count;
    } while (count > 0);
  }
  removed.annotations = await countOf(db, query`delete from annotations where at_utc_ms < ${utcMs} returning 1 as n`);
  removed.episodes = await countOf(
    db,
    query`
    delete from return_episodes where greatest(onset_utc_ms, created_utc_ms) < ${utcMs} and not exists (
      select from return_decisions where episode_id = return_episodes.id and decided_utc_ms >= ${utcMs}
    ) returning 1 as n`,
  );
  return removed;
}

/** Each found by one look into the index, however many samples it has. */
const devices = query`
  with recursive each as (
    (select device_id from raw_batches order by device_id limit 1)
    union all
    select (select device_id from raw_batches where device_id > each.device_id order by device_id limit 1)
    from each where each.device_id is not null
  )
  select device_id from each where device_id is not null`;

async function countOf(db: Db, removal: ReturnType<typeof query>): Promise<number> {
  const [row] = await db.execute<{ n: string }>(
    query`with gone as (${removal}) select coalesce(sum(n), 0)::text as n from gone`,
  );
  return Number(row?.n ?? 0);
}
