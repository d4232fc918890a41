import { bigint, check, index, integer, pgTable, primaryKey, text, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import type { ConsentPurpose } from '@ambipede/shared';
import { accounts } from './accounts.ts';
import { athletes } from './athletes.ts';

/** Who cares for whom. */
export const carers = pgTable(
  'carers',
  {
    athleteId: uuid('athlete_id')
      .notNull()
      .references(() => athletes.id, { onDelete: 'cascade' }),
    accountId: uuid('account_id')
      .notNull()
      .references(() => accounts.id, { onDelete: 'cascade' }),
    sinceUtcMs: bigint('since_utc_ms', { mode: 'number' }).notNull(),
  },
  (table) => [
    primaryKey({ columns: [table.athleteId, table.accountId] }),
    index('carers_of_account').on(table.accountId),
  ],
);

/** What was agreed to and taken back. A withdrawn consent stays; a new one is a row of its own. */
export const consents = pgTable(
  'consents',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    athleteId: uuid('athlete_id')
      .notNull()
      .references(() => athletes.id, { onDelete: 'cascade' }),
    purpose: text('purpose').$type<ConsentPurpose>().notNull(),
    givenByName: text('given_by_name').notNull(),
    guardianOf: text('guardian_of'),
    givenUtcMs: bigint('given_utc_ms', { mode: 'number' }).notNull(),
    recordedByName: text('recorded_by_name'),
    withdrawnUtcMs: bigint('withdrawn_utc_ms', { mode: 'number' }),
    withdrawnByName: text('withdrawn_by_name'),
  },
  (table) => [
    index('consents_of_athlete').on(table.athleteId, table.givenUtcMs),
    check('consents_purpose_known', sql`${table.purpose} in ('recording', 'health to coach')`),
    check(
      'consents_withdrawn_by_somebody',
      sql`(${table.withdrawnUtcMs} is null) = (${table.withdrawnByName} is null)`,
    ),
  ],
);

/**
 * Who read or changed what of whom. Added to, never changed: a trigger of the migration refuses it. No names, and no foreign keys:
 * it outlives accounts and athletes.
 */
export const audit = pgTable(
  'audit',
  {
    id: bigint('id', { mode: 'number' }).primaryKey().generatedAlwaysAsIdentity(),
    utcMs: bigint('utc_ms', { mode: 'number' }).notNull(),
    accountId: uuid('account_id'),
    action: text('action').notNull(),
    athleteId: uuid('athlete_id'),
    refusedStatus: integer('refused_status'),
  },
  (table) => [index('audit_of_athlete').on(table.athleteId, table.id)],
);

/** How long things are kept; one row at most. */
export const retention = pgTable(
  'retention',
  {
    id: integer('id').primaryKey().default(1),
    /** Sessions that ended longer ago are removed, with everything in them; null: kept until somebody erases them. */
    months: integer('months'),
    changedUtcMs: bigint('changed_utc_ms', { mode: 'number' }).notNull(),
  },
  (table) => [
    check('retention_one_row', sql`${table.id} = 1`),
    check('retention_months_possible', sql`${table.months} between 1 and 600`),
  ],
);
