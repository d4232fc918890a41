/** The durable raw samples: ingest appends, re-analysis reads. */
import { and, asc, eq, gt, lt, max } from 'drizzle-orm';
import type { RawBatch, RawLog, StreamEnd } from '../ingest/raw-log.ts';
import type { Database, Db } from './database.ts';
import { rawBatches } from './schema/index.ts';

/** Its number in PostgreSQL's pg_type: for an array of bytes the driver would guess a single bytea. */
const BYTEA_ARRAY = 1001;

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
 * One transaction. A batch that is stored already, sample for sample, counts as stored; one that overlaps in any other
 * way is a fault of the caller and rejects everything.
 */
async function append(sql: Database['sql'], batches: readonly RawBatch[]): Promise<void> {
  if (batches.length === 0) return;
  await sql.begin(async (tx) => {
    const fresh = await withoutStored(tx, batches);
    if (fresh.length === 0) return;
    const column = <K extends keyof RawBatch>(key: K): RawBatch[K][] => fresh.map((batch) => batch[key]);
    // Arrays keep the statement the same for any number of batches, so that it is planned once.
    await tx`
      insert into raw_batches (device_id, boot_id, first_sequence, count, first_tick_us, interval_us, first_utc_ms,
        end_utc_ms, accel_scale, gyro_scale, crc32c, payload, athlete_id)
      select given.*, sensors.athlete_id
      from unnest(
        ${column('deviceId')}::text[], ${column('bootId')}::bigint[], ${column('firstSequence')}::bigint[],
        ${column('count')}::integer[], ${column('firstTickUs')}::bigint[], ${column('intervalUs')}::integer[],
        ${column('firstUtcMs')}::double precision[], ${column('endUtcMs')}::double precision[],
        ${column('accelScale')}::double precision[], ${column('gyroScale')}::double precision[],
        ${column('crc32c')}::bigint[], ${tx.array(column('payload'), BYTEA_ARRAY)}
      ) as given (device_id, boot_id, first_sequence, count, first_tick_us, interval_us, first_utc_ms, end_utc_ms,
        accel_scale, gyro_scale, crc32c, payload)
      left join sensors on sensors.device_id = given.device_id`;
  });
}

type Transaction = Parameters<Parameters<Database['sql']['begin']>[1]>[0];

async function withoutStored(tx: Transaction, batches: readonly RawBatch[]): Promise<RawBatch[]> {
  const ends = await endsOf(tx, batches);
  const fresh: RawBatch[] = [];
  for (const batch of batches) {
    const key = streamKey(batch);
    const end = ends.get(key) ?? 0;
    if (batch.firstSequence >= end) {
      fresh.push(batch);
      ends.set(key, batch.firstSequence + batch.count);
    } else if (!(await isStored(tx, batch))) {
      throw new Error(
        `Samples ${batch.firstSequence} to ${batch.firstSequence + batch.count - 1} of ${batch.deviceId} overlap what is stored ` +
          `up to ${end - 1}: ask streamEnd and append what follows.`,
      );
    }
  }
  return fresh;
}

async function endsOf(tx: Transaction, batches: readonly RawBatch[]): Promise<Map<string, number>> {
  const streams = [...new Map(batches.map((batch) => [streamKey(batch), batch])).values()];
  const rows = await tx<{ device_id: string; boot_id: string; stream_end: string }[]>`
    select stream.device_id, stream.boot_id, last.stream_end
    from unnest(${streams.map((s) => s.deviceId)}::text[], ${streams.map((s) => s.bootId)}::bigint[]) as stream (device_id, boot_id)
    cross join lateral (
      select first_sequence + count as stream_end from raw_batches
      where raw_batches.device_id = stream.device_id and raw_batches.boot_id = stream.boot_id
      order by first_sequence desc limit 1
    ) as last`;
  return new Map(
    rows.map((row) => [streamKey({ deviceId: row.device_id, bootId: Number(row.boot_id) }), Number(row.stream_end)]),
  );
}

async function isStored(tx: Transaction, batch: RawBatch): Promise<boolean> {
  const [row] = await tx`
    select from raw_batches where device_id = ${batch.deviceId} and boot_id = ${batch.bootId}
      and first_sequence = ${batch.firstSequence} and count = ${batch.count} and crc32c = ${batch.crc32c}`;
  return row !== undefined;
}

function streamKey({ deviceId, bootId }: Pick<RawBatch, 'deviceId' | 'bootId'>): string {
  return `${deviceId} ${bootId}`;
}

/** Batches of a device with any sample in the span, in order of time; a reboot within it starts a new stream. */
export async function loadRawBatches(
  db: Db,
  deviceId: string,
  fromUtcMs: number,
  toUtcMs: number,
): Promise<RawBatch[]> {
  return db
    .select({
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
      crc32c: rawBatches.crc32c,
    })
    .from(rawBatches)
    .where(
      and(eq(rawBatches.deviceId, deviceId), gt(rawBatches.endUtcMs, fromUtcMs), lt(rawBatches.firstUtcMs, toUtcMs)),
    )
    .orderBy(asc(rawBatches.firstUtcMs), asc(rawBatches.bootId), asc(rawBatches.firstSequence));
}

/** How far the durable samples of a device reach; null when there are none. */
export async function durableUntilUtcMs(db: Db, deviceId: string): Promise<number | null> {
  const [row] = await db
    .select({ until: max(rawBatches.endUtcMs) })
    .from(rawBatches)
    .where(eq(rawBatches.deviceId, deviceId));
  return row?.until ?? null;
}
