import {
  bigint,
  boolean,
  check,
  doublePrecision,
  index,
  integer,
  jsonb,
  pgTable,
  primaryKey,
  text,
  uniqueIndex,
  uuid,
} from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import type { AnalysisQuality, MetricAsymmetry, StanceMetricKey, Task, TaskSummary, Waveforms } from '@ambipede/shared';
import { sessions } from './sessions.ts';

export const trials = pgTable(
  'trials',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    sessionId: uuid('session_id')
      .notNull()
      .references(() => sessions.id, { onDelete: 'cascade' }),
    task: text('task').$type<Task>().notNull(),
    state: text('state', { enum: ['running', 're-analysing', 'final', 'failed'] }).notNull(),
    startedUtcMs: bigint('started_utc_ms', { mode: 'number' }).notNull(),
    endedUtcMs: bigint('ended_utc_ms', { mode: 'number' }),
    /** Of the algorithm and parameters that made the stored result. */
    version: text('version'),
    problem: text('problem'),
    /** False while samples of the trial may still be on their way; it is analysed again when they have come. */
    dataComplete: boolean('data_complete').notNull().default(false),
    quality: jsonb('quality').$type<AnalysisQuality>(),
    /** Read whole, and made by the same version as the rest of the result. */
    taskSummary: jsonb('task_summary').$type<TaskSummary>(),
    waveforms: jsonb('waveforms').$type<Waveforms>(),
    /** Of the athlete when the trial started: analysed again, it gives the same forces. */
    bodyMassKg: doublePrecision('body_mass_kg'),
    tags: text('tags')
      .array()
      .notNull()
      .default(sql`'{}'::text[]`),
    note: text('note').notNull().default(''),
    discarded: boolean('discarded').notNull().default(false),
  },
  (table) => [
    uniqueIndex('trials_one_running')
      .on(table.sessionId)
      .where(sql`${table.state} = 'running'`),
    index('trials_of_session').on(table.sessionId, table.startedUtcMs),
    // On start: what a crash left unfinished.
    index('trials_unfinished')
      .on(table.state)
      .where(sql`${table.state} in ('running', 're-analysing')`),
    check('trials_state_known', sql`${table.state} in ('running', 're-analysing', 'final', 'failed')`),
  ],
);

/** Left against right per trial and metric: what history reads. */
export const trialMetrics = pgTable(
  'trial_metrics',
  {
    trialId: uuid('trial_id')
      .notNull()
      .references(() => trials.id, { onDelete: 'cascade' }),
    metric: text('metric').$type<StanceMetricKey>().notNull(),
    leftN: integer('left_n').notNull(),
    leftMean: doublePrecision('left_mean'),
    leftSd: doublePrecision('left_sd'),
    rightN: integer('right_n').notNull(),
    rightMean: doublePrecision('right_mean'),
    rightSd: doublePrecision('right_sd'),
    difference: doublePrecision('difference'),
    ciLow: doublePrecision('ci_low'),
    ciHigh: doublePrecision('ci_high'),
    missingLeft: integer('missing_left').notNull(),
    missingRight: integer('missing_right').notNull(),
    verdict: text('verdict').$type<MetricAsymmetry['verdict']>().notNull(),
    placementUncertainty: doublePrecision('placement_uncertainty'),
  },
  (table) => [primaryKey({ columns: [table.trialId, table.metric] })],
);
