import { bigint, check, customType, pgTable, text, uniqueIndex, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import { athletes } from './athletes.ts';

const bytea = customType<{ data: Uint8Array }>({ dataType: () => 'bytea' });

/** Devices that were enrolled or placed by hand, and where on whom they sit now. */
export const sensors = pgTable(
  'sensors',
  {
    deviceId: text('device_id').primaryKey(),
    athleteId: uuid('athlete_id').references(() => athletes.id, { onDelete: 'set null' }),
    place: text('place', { enum: ['pelvis', 'sternum'] }),
    lastSeenUtcMs: bigint('last_seen_utc_ms', { mode: 'number' }),
    /** SHA-256 of the device's token; the token itself is nowhere. Null: not enrolled. */
    tokenHash: bytea('token_hash'),
  },
  (table) => [
    // Two sensors that claim one place on one athlete would be mixed up.
    uniqueIndex('sensors_athlete_place').on(table.athleteId, table.place),
    check('sensors_place_known', sql`${table.place} in ('pelvis', 'sternum')`),
    check('sensors_token_hash_is_sha256', sql`octet_length(${table.tokenHash}) = 32`),
  ],
);
