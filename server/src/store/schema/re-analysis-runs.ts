import { bigint, check, integer, pgTable, text, uniqueIndex, uuid } from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';

/** All stored trials analysed again with one version, and how far that has come. */
export const reAnalysisRuns = pgTable(
  're_analysis_runs',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    version: text('version').notNull(),
    scope: text('scope', { enum: ['outdated', 'all'] })
      .notNull()
      .default('outdated'),
    state: text('state', { enum: ['running', 'done', 'cancelled', 'superseded'] }).notNull(),
    startedUtcMs: bigint('started_utc_ms', { mode: 'number' }).notNull(),
    endedUtcMs: bigint('ended_utc_ms', { mode: 'number' }),
    trialsTotal: integer('trials_total').notNull(),
    trialsDone: integer('trials_done').notNull().default(0),
    /** These keep the result that they had. */
    trialsFailed: integer('trials_failed').notNull().default(0),
    /** The last trial dealt with, in the order of start and id: after a restart the run goes on behind it. */
    lastTrialStartedUtcMs: bigint('last_trial_started_utc_ms', { mode: 'number' }),
    lastTrialId: uuid('last_trial_id'),
  },
  (table) => [
    uniqueIndex('re_analysis_runs_one_running')
      .on(table.state)
      .where(sql`${table.state} = 'running'`),
    check('re_analysis_runs_scope_known', sql`${table.scope} in ('outdated', 'all')`),
    check('re_analysis_runs_state_known', sql`${table.state} in ('running', 'done', 'cancelled', 'superseded')`),
  ],
);
