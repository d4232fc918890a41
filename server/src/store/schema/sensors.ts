import { bigint, check, pgTable, text, uniqueIndex, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import { athletes } from './athletes.ts';

/** Devices that have said hello or were placed by hand, and where on whom they sit now. */
export const sensors = pgTable(
  'sensors',
  {
    deviceId: text('device_id').primaryKey(),
    athleteId: uuid('athlete_id').references(() => athletes.id, { onDelete: 'set null' }),
    place: text('place', { enum: ['pelvis', 'sternum'] }),
    lastSeenUtcMs: bigint('last_seen_utc_ms', { mode: 'number' }),
  },
  (table) => [
    // Two sensors that claim one place on one athlete would be mixed up.
    uniqueIndex('sensors_athlete_place').on(table.athleteId, table.place),
    check('sensors_place_known', sql`${table.place} in ('pelvis', 'sternum')`),
  ],
);
