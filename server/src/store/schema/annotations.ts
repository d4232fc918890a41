import { bigint, check, index, integer, pgTable, text, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import { athletes } from './athletes.ts';

/** What somebody wrote down about an athlete at a time, shown along the history. Each kind uses the columns that are its own. */
export const annotations = pgTable(
  'annotations',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    athleteId: uuid('athlete_id')
      .notNull()
      .references(() => athletes.id, { onDelete: 'cascade' }),
    kind: text('kind', { enum: ['injury', 'pain', 'surface', 'shoes', 'note'] }).notNull(),
    /** When it was so, not when it was written. */
    atUtcMs: bigint('at_utc_ms', { mode: 'number' }).notNull(),
    authorName: text('author_name').notNull(),
    /** Of an injury or a pain; null where no side was named. */
    side: text('side', { enum: ['left', 'right', 'both'] }),
    /** 0 no pain, 10 the worst: of a pain alone. */
    painLevel: integer('pain_level'),
    /** What surface, which shoes, or more about it. */
    text: text('text').notNull().default(''),
    createdUtcMs: bigint('created_utc_ms', { mode: 'number' }).notNull(),
  },
  (table) => [
    // An athlete's history, in order of time.
    index('annotations_of_athlete').on(table.athleteId, table.atUtcMs),
    check('annotations_kind_known', sql`${table.kind} in ('injury', 'pain', 'surface', 'shoes', 'note')`),
    check('annotations_side_known', sql`${table.side} in ('left', 'right', 'both')`),
    check('annotations_side_of_injury_or_pain', sql`${table.side} is null or ${table.kind} in ('injury', 'pain')`),
    check('annotations_pain_has_level', sql`(${table.kind} = 'pain') = (${table.painLevel} is not null)`),
    check('annotations_pain_level_possible', sql`${table.painLevel} between 0 and 10`),
  ],
);
