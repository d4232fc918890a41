import { bigint, check, doublePrecision, pgTable, text, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';

export const athletes = pgTable(
  'athletes',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    name: text('name').notNull(),
    createdUtcMs: bigint('created_utc_ms', { mode: 'number' }).notNull(),
    bodyMassKg: doublePrecision('body_mass_kg'),
    dominantHand: text('dominant_hand', { enum: ['left', 'right', 'both'] }),
    preferredTakeOffFoot: text('preferred_take_off_foot', { enum: ['left', 'right'] }),
    notes: text('notes').notNull().default(''),
  },
  (table) => [
    // A slip of the finger would go into every force: BODY_MASS_KG_MIN and BODY_MASS_KG_MAX of the API.
    check('athletes_body_mass_possible', sql`${table.bodyMassKg} between 15 and 250`),
    check('athletes_dominant_hand_known', sql`${table.dominantHand} in ('left', 'right', 'both')`),
    check('athletes_take_off_foot_known', sql`${table.preferredTakeOffFoot} in ('left', 'right')`),
  ],
);
