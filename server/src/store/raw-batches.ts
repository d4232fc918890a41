/** The durable raw samples: ingest appends, re-analysis reads. */
import { and, asc, eq, gt, inArray, lt, max, sql as query } from 'drizzle-orm';
import type { RawBatch, RawLog, StreamEnd } from '../ingest/raw-log.ts';
import { arrayLiteral } from './array-literal.ts';
import type { Database, Db, Sql } from './database.ts';
import { rawBatches } from './schema/index.ts';

/** Seconds of one sensor at a usual rate: soon read, soon written. */
const BATCHES_PER_PAGE = 1000;

const BATCH = {
  deviceId: rawBatches.deviceId,
  bootId: rawBatches.bootId,
  firstSequence: rawBatches.firstSequence,
  count: rawBatches.count,
  firstTickUs: rawBatches.firstTickUs,
  intervalUs: rawBatches.intervalUs,
  firstUtcMs: rawBatches.firstUtcMs,
  endUtcMs: rawBatches.endUtcMs,
  payload: rawBatches.payload,
  accelScale: rawBatches.accelScale,
  gyroScale: rawBatches.gyroScale,
  magnScale: rawBatches.magnScale,
  channels: rawBatches.channels,
  crc32c: rawBatches.crc32c,
};

export function createRawLog({ sql, db }: Database): RawLog {
  return {
    append: (batches) => append(sql, batches),
    streamEnd: (deviceId, bootId) => streamEnd(db, deviceId, bootId),
  };
}

async function streamEnd(db: Db, deviceId: string, bootId: number): Promise<StreamEnd | null> {
  const last = await db.query.rawBatches.findFirst({
    columns: { firstSequence: true, count: true, endUtcMs: true },
    where: and(eq(rawBatches.deviceId, deviceId), eq(rawBatches.bootId, bootId)),
    orderBy: (table, { desc }) => desc(table.firstSequence),
  });
  return last ? { nextSequence: last.firstSequence + last.count, endUtcMs: last.endUtcMs } : null;
}

/**
 * One statement writes, so all are stored or none; no other connection writes samples (server-lock.ts), so what was read
 * before still holds. It is no transaction of several statements, because the driver ends the whole process when the database
 * goes away between two statements of one (postgres.js 3.4: a write to a socket that is gone, thrown from a timer).
 *
 * A batch that is stored already, sample for sample, counts as stored; one that overlaps in any other
 * way is a fault of the caller and rejects everything.
 */
async function append(sql: Sql, batches: readonly RawBatch[]): Promise<void> {
  if (batches.length === 0) return;
  const fresh = await withoutStored(sql, batches);
  if (fresh.length > 0) await insertBatches(sql, fresh, null);
}

/** @param athleteId whose they are; null: whoever wears the device now. Rejects everything when one of them is stored already. */
export async function insertBatches(sql: Sql, batches: readonly RawBatch[], athleteId: string | null): Promise<void> {
  const column = (key: keyof RawBatch): string => arrayLiteral(batches.map((batch) => batch[key]));
  // Arrays keep the statement the same for any number of batches, so that it is planned once.
  await sql`
    insert into raw_batches (device_id, boot_id, first_sequence, count, first_tick_us, interval_us, first_utc_ms,
      end_utc_ms, accel_scale, gyro_scale, magn_scale, channels, crc32c, payload, athlete_id)
    select given.*, coalesce(${athleteId}::uuid, sensors.athlete_id)
    from unnest(
      ${column('deviceId')}::text[], ${column('bootId')}::bigint[], ${column('firstSequence')}::bigint[],
      ${column('count')}::integer[], ${column('firstTickUs')}::bigint[], ${column('intervalUs')}::integer[],
      ${column('firstUtcMs')}::double precision[], ${column('endUtcMs')}::double precision[],
      ${column('accelScale')}::double precision[], ${column('gyroScale')}::double precision[],
      ${column('magnScale')}::double precision[], ${column('channels')}::integer[],
      ${column('crc32c')}::bigint[], ${column('payload')}::bytea[]
    ) as given (device_id, boot_id, first_sequence, count, first_tick_us, interval_us, first_utc_ms, end_utc_ms,
      accel_scale, gyro_scale, magn_scale, channels, crc32c, payload)
    left join sensors on sensors.device_id = given.device_id`;
}

async function withoutStored(sql: Sql, batches: readonly RawBatch[]): Promise<RawBatch[]> {
  const ends = await endsOf(sql, batches);
  const fresh: RawBatch[] = [];
  for (const batch of batches) {
    const key = streamKey(batch);
    const end = ends.get(key) ?? 0;
    if (batch.firstSequence >= end) {
      fresh.push(batch);
      ends.set(key, batch.firstSequence + batch.count);
    } else if (!(await isStored(sql, batch))) {
      throw new Error(
        `Samples ${batch.firstSequence} to ${batch.firstSequence + batch.count - 1} of ${batch.deviceId} overlap what is stored ` +
          `up to ${end - 1}: ask streamEnd and append what follows.`,
      );
    }
  }
  return fresh;
}

async function endsOf(sql: Sql, batches: readonly RawBatch[]): Promise<Map<string, number>> {
  const streams = [...new Map(batches.map((batch) => [streamKey(batch), batch])).values()];
  const rows = await sql<{ device_id: string; boot_id: string; stream_end: string }[]>`
    select stream.device_id, stream.boot_id, last.stream_end
    from unnest(${arrayLiteral(streams.map((s) => s.deviceId))}::text[], ${arrayLiteral(streams.map((s) => s.bootId))}::bigint[])
      as stream (device_id, boot_id)
    cross join lateral (
      select first_sequence + count as stream_end from raw_batches
      where raw_batches.device_id = stream.device_id and raw_batches.boot_id = stream.boot_id
      order by first_sequence desc limit 1
    ) as last`;
  return new Map(
    rows.map((row) => [streamKey({ deviceId: row.device_id, bootId: Number(row.boot_id) }), Number(row.stream_end)]),
  );
}

async function isStored(sql: Sql, batch: RawBatch): Promise<boolean> {
  const [row] = await sql`
    select from raw_batches where device_id = ${batch.deviceId} and boot_id = ${batch.bootId}
      and first_sequence = ${batch.firstSequence} and count = ${batch.count} and crc32c = ${batch.crc32c}`;
  return row !== undefined;
}

function streamKey({ deviceId, bootId }: Pick<RawBatch, 'deviceId' | 'bootId'>): string {
  return `${deviceId} ${bootId}`;
}

/** Batches that were stored as an athlete's, in the order of device, start and sequence: a page, those after `last`. */
export async function pageOfAthletesBatches(
  db: Db,
  athleteId: string,
  last: Pick<RawBatch, 'deviceId' | 'bootId' | 'firstSequence'> | null,
): Promise<RawBatch[]> {
  const isLater =
    last === null
      ? undefined
      : query`(${rawBatches.deviceId}, ${rawBatches.bootId}, ${rawBatches.firstSequence})
          > (${last.deviceId}, ${last.bootId}, ${last.firstSequence})`;
  return db
    .select(BATCH)
    .from(rawBatches)
    .where(and(eq(rawBatches.athleteId, athleteId), isLater))
    .orderBy(asc(rawBatches.deviceId), asc(rawBatches.bootId), asc(rawBatches.firstSequence))
    .limit(BATCHES_PER_PAGE);
}

/** Batches of a device with any sample in the span, in order of time; a reboot within it starts a new stream. */
export async function loadRawBatches(
  db: Db,
  deviceId: string,
  fromUtcMs: number,
  toUtcMs: number,
): Promise<RawBatch[]> {
  return db
    .select(BATCH)
    .from(rawBatches)
    .where(
      and(eq(rawBatches.deviceId, deviceId), gt(rawBatches.endUtcMs, fromUtcMs), lt(rawBatches.firstUtcMs, toUtcMs)),
    )
    .orderBy(asc(rawBatches.firstUtcMs), asc(rawBatches.bootId), asc(rawBatches.firstSequence));
}

/** How far the durable samples of each device reach; a device without any is not in it. */
export async function durableUntilUtcMs(db: Db, deviceIds: readonly string[]): Promise<Map<string, number>> {
  if (deviceIds.length === 0) return new Map();
  const rows = await db
    .select({ deviceId: rawBatches.deviceId, until: max(rawBatches.endUtcMs) })
    .from(rawBatches)
    .where(inArray(rawBatches.deviceId, [...deviceIds]))
    .groupBy(rawBatches.deviceId);
  return new Map(rows.map(({ deviceId, until }) => [deviceId, until ?? 0]));
}
