import { bigint, check, doublePrecision, index, integer, jsonb, pgTable, text, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import type { CriterionThen, StanceMetricKey, TaskInfo } from '@ambipede/shared';
import { athletes } from './athletes.ts';

/** The way of one athlete back to training after one injury. */
export const returnEpisodes = pgTable(
  'return_episodes',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    athleteId: uuid('athlete_id')
      .notNull()
      .references(() => athletes.id, { onDelete: 'cascade' }),
    onsetUtcMs: bigint('onset_utc_ms', { mode: 'number' }).notNull(),
    affectedSide: text('affected_side', { enum: ['left', 'right'] }).notNull(),
    /** What is to be decided, in the physio's words. */
    question: text('question').notNull(),
    baseline: text('baseline', { enum: ['before the injury', 'unaffected side'] }).notNull(),
    createdUtcMs: bigint('created_utc_ms', { mode: 'number' }).notNull(),
  },
  (table) => [
    index('return_episodes_of_athlete').on(table.athleteId, table.onsetUtcMs),
    check('return_episodes_side_known', sql`${table.affectedSide} in ('left', 'right')`),
    check('return_episodes_baseline_known', sql`${table.baseline} in ('before the injury', 'unaffected side')`),
  ],
);

/** What a physio wants to see before a decision. */
export const returnCriteria = pgTable(
  'return_criteria',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    episodeId: uuid('episode_id')
      .notNull()
      .references(() => returnEpisodes.id, { onDelete: 'cascade' }),
    /** The rung of the task ladder. */
    task: text('task').$type<TaskInfo['rung']>().notNull(),
    metric: text('metric').$type<StanceMetricKey>().notNull(),
    /** In the metric's unit, to both sides. */
    limit: doublePrecision('limit_in_unit').notNull(),
    sessionsInARow: integer('sessions_in_a_row').notNull(),
    createdUtcMs: bigint('created_utc_ms', { mode: 'number' }).notNull(),
  },
  (table) => [
    index('return_criteria_of_episode').on(table.episodeId, table.createdUtcMs),
    check('return_criteria_limit_above_zero', sql`${table.limit} > 0`),
    check('return_criteria_sessions_possible', sql`${table.sessionsInARow} >= 1`),
  ],
);

/** What a person decided. Added to, never changed: a trigger of the migration refuses it. */
export const returnDecisions = pgTable(
  'return_decisions',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    episodeId: uuid('episode_id')
      .notNull()
      .references(() => returnEpisodes.id, { onDelete: 'cascade' }),
    decidedUtcMs: bigint('decided_utc_ms', { mode: 'number' }).notNull(),
    deciderName: text('decider_name').notNull(),
    /** In the decider's words: return is a continuum, not a switch. */
    decision: text('decision').notNull(),
    reason: text('reason').notNull(),
    /** The account in which it was recorded; null for decisions from before there were accounts. */
    recordedByName: text('recorded_by_name'),
    /** How the criteria stood at that moment; null for decisions of versions that did not keep it. */
    criteria: jsonb('criteria').$type<CriterionThen[]>(),
  },
  (table) => [
    index('return_decisions_of_episode').on(table.episodeId, table.decidedUtcMs),
    check('return_decisions_have_reason', sql`${table.reason} ~ '\\S' and ${table.deciderName} ~ '\\S'`),
  ],
);
