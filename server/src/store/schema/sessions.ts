import {
  bigint,
  doublePrecision,
  index,
  jsonb,
  pgTable,
  primaryKey,
  text,
  uniqueIndex,
  uuid,
} from 'drizzle-orm/pg-core';
import { sql } from 'drizzle-orm';
import { athletes } from './athletes.ts';

/** From putting the sensors on to taking them off. Times are the server's, ms since 1970 UTC. */
export const sessions = pgTable(
  'sessions',
  {
    id: uuid('id').primaryKey().defaultRandom(),
    athleteId: uuid('athlete_id')
      .notNull()
      .references(() => athletes.id, { onDelete: 'cascade' }),
    startedUtcMs: bigint('started_utc_ms', { mode: 'number' }).notNull(),
    endedUtcMs: bigint('ended_utc_ms', { mode: 'number' }),
    /** For a session that came from files: which, in a few words. Null: its sensors streamed to this server. */
    importedFrom: text('imported_from'),
  },
  (table) => [
    // One open session per athlete, held by the database.
    uniqueIndex('sessions_one_open')
      .on(table.athleteId)
      .where(sql`${table.endedUtcMs} is null`),
    index('sessions_of_athlete').on(table.athleteId, table.startedUtcMs),
  ],
);

/** Which device sat where in a session: re-analysis months later must not depend on where it sits then. */
export const sessionSensors = pgTable(
  'session_sensors',
  {
    sessionId: uuid('session_id')
      .notNull()
      .references(() => sessions.id, { onDelete: 'cascade' }),
    place: text('place', { enum: ['pelvis', 'sternum'] }).notNull(),
    deviceId: text('device_id').notNull(),
  },
  (table) => [primaryKey({ columns: [table.sessionId, table.place] })],
);

/** Spans of the guided lead-in; a repeated step has several rows and the last counts. */
export const leadInMarks = pgTable(
  'lead_in_marks',
  {
    id: bigint('id', { mode: 'number' }).primaryKey().generatedAlwaysAsIdentity(),
    sessionId: uuid('session_id')
      .notNull()
      .references(() => sessions.id, { onDelete: 'cascade' }),
    step: text('step', { enum: ['reference_stand', 'forward_bow'] }).notNull(),
    startUtcMs: bigint('start_utc_ms', { mode: 'number' }).notNull(),
    endUtcMs: bigint('end_utc_ms', { mode: 'number' }),
  },
  (table) => [index('lead_in_marks_of_session').on(table.sessionId, table.startUtcMs)],
);

/** How each sensor sits on the body, as last found in the session. */
export const mountings = pgTable(
  'mountings',
  {
    sessionId: uuid('session_id')
      .notNull()
      .references(() => sessions.id, { onDelete: 'cascade' }),
    place: text('place', { enum: ['pelvis', 'sternum'] }).notNull(),
    source: text('source', { enum: ['lead-in', 'reference stand and movement', 'movement', 'none'] }).notNull(),
    /** w x y z; null when unknown. */
    quaternion: doublePrecision('quaternion').array(),
    frontalUncertaintyDeg: doublePrecision('frontal_uncertainty_deg'),
    remarks: jsonb('remarks').$type<string[]>().notNull(),
    details: jsonb('details').$type<Record<string, number>>().notNull(),
  },
  (table) => [primaryKey({ columns: [table.sessionId, table.place] })],
);
