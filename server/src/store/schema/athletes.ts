import { bigint, pgTable, text, uuid } from 'drizzle-orm/pg-core';

export const athletes = pgTable('athletes', {
  id: uuid('id').primaryKey().defaultRandom(),
  name: text('name').notNull(),
  createdUtcMs: bigint('created_utc_ms', { mode: 'number' }).notNull(),
});
