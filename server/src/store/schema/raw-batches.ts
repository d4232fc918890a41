import {
  bigint,
  customType,
  doublePrecision,
  index,
  integer,
  pgTable,
  primaryKey,
  text,
  uuid,
} from 'drizzle-orm/pg-core';
import { athletes } from './athletes.ts';

const bytea = customType<{ data: Uint8Array }>({ dataType: () => 'bytea' });

/** Samples as the devices sent them; the fields are those of `ingest/raw-log.ts`. Never updated. */
export const rawBatches = pgTable(
  'raw_batches',
  {
    deviceId: text('device_id').notNull(),
    bootId: bigint('boot_id', { mode: 'number' }).notNull(),
    firstSequence: bigint('first_sequence', { mode: 'number' }).notNull(),
    count: integer('count').notNull(),
    firstTickUs: bigint('first_tick_us', { mode: 'number' }).notNull(),
    intervalUs: integer('interval_us').notNull(),
    firstUtcMs: doublePrecision('first_utc_ms').notNull(),
    endUtcMs: doublePrecision('end_utc_ms').notNull(),
    accelScale: doublePrecision('accel_scale').notNull(),
    gyroScale: doublePrecision('gyro_scale').notNull(),
    /** Rows older than these columns have no magnetometer. */
    magnScale: doublePrecision('magn_scale').notNull().default(0),
    channels: integer('channels').notNull().default(3),
    crc32c: bigint('crc32c', { mode: 'number' }).notNull(),
    payload: bytea('payload').notNull(),
    /** Who wore the device when the batch was stored: deleting an athlete deletes these too. */
    athleteId: uuid('athlete_id').references(() => athletes.id, { onDelete: 'cascade' }),
  },
  (table) => [
    // Also answers "where does this stream end".
    primaryKey({ columns: [table.deviceId, table.bootId, table.firstSequence] }),
    // Re-analysis: all batches of a device within a span of time.
    index('raw_batches_of_device').on(table.deviceId, table.endUtcMs),
    index('raw_batches_of_athlete').on(table.athleteId),
  ],
);
