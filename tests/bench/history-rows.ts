/** Five years of 200 athletes, straight into the tables: what a club of that size would hold, without raw samples and curves. */
import { STANCE_METRIC_KEYS } from '../../shared/src/index.ts';
import type { Sql } from '../../server/src/store/database.ts';

export const ATHLETES = 200;
const YEARS = 5;
const WEEKS_PER_YEAR = 52;
/** One session a week: walk, run, and one other task in turns. */
export const TRIALS_PER_SESSION = 3;
export const OTHER_TASKS = ['stand', 'single-leg-stand-left', 'single-leg-stand-right', 'strides', 'run-up'];
export const SESSIONS = ATHLETES * YEARS * WEEKS_PER_YEAR;
const WEEKS_PER_STATEMENT = 13;
const DAY_MS = 86_400_000;
const FIRST_UTC_MS = Date.UTC(2020, 0, 6);
/** The middle of the second last year. */
export const ONSET_UTC_MS = FIRST_UTC_MS + 3.5 * 364 * DAY_MS;

const SUMMARY = {
  ...{ runUp: [], landing: [], halfTurn: [], remarks: [] },
  stand: [
    {
      ...{ startS: 1, endS: 20, chestLeadDeg: 1, chestLeadUncertaintyDeg: 1, chestLeads: null },
      restingLeanDeg: { pelvis: 1.5, trunk: -2 },
      restingLeanUncertaintyDeg: { pelvis: 0.5, trunk: 0.5 },
      sway: { pelvis: null, trunk: null },
    },
  ],
  singleLegStand: ['left', 'right'].map((side) => ({
    ...{ side, startS: 1, endS: 20, heldS: 15, swingSideHeightDeg: -2, leanToStanceDeg: 1, sideBendDeg: 0 },
    ...{ sway: { pelvis: null, trunk: null }, corrections: null },
  })),
};

/** In order of time, all athletes in turns, as a club writes them: the rows of one athlete lie far apart. */
export async function fillHistory(sql: Sql): Promise<void> {
  await sql`select setseed(0.5)`;
  await sql`insert into athletes (name, created_utc_ms) select 'Athlete ' || k, 0 from generate_series(1, ${ATHLETES}::int) k`;
  for (let week = 0; week < YEARS * WEEKS_PER_YEAR; week += WEEKS_PER_STATEMENT) await fillWeeks(sql, week);
  await sql`
    insert into annotations (athlete_id, kind, at_utc_ms, author_name, pain_level, created_utc_ms)
    select id, 'pain', ${FIRST_UTC_MS}::bigint + k * ${7 * DAY_MS}::bigint, 'Ruta', k % 11, 0
    from athletes, generate_series(0, ${YEARS * WEEKS_PER_YEAR - 1}::int) k`;
  await sql.unsafe('vacuum analyze');
}

async function fillWeeks(sql: Sql, from: number): Promise<void> {
  const summary = JSON.stringify(SUMMARY);
  const others = `{${OTHER_TASKS.join(',')}}`;
  const [start, end] = [from, from + WEEKS_PER_STATEMENT].map((week) => FIRST_UTC_MS + week * 7 * DAY_MS);
  await sql`
    insert into sessions (athlete_id, started_utc_ms, ended_utc_ms)
    select a.id, s.at, s.at + 3600000
    from generate_series(${start!}::bigint, ${end! - 1}::bigint, ${7 * DAY_MS}::bigint) s(at), athletes a
    order by s.at, random()`;
  await sql`
    insert into trials (session_id, task, state, started_utc_ms, ended_utc_ms, version, data_complete, quality, task_summary)
    select s.id, (array['walk', 'run', (${others}::text[])[1 + (s.started_utc_ms / ${7 * DAY_MS}::bigint) % ${OTHER_TASKS.length}::int]])[k],
      'final', s.started_utc_ms + k * 60000, s.started_utc_ms + k * 60000 + 30000, 'v1', true, '{}', ${summary}::text::jsonb
    from sessions s, generate_series(1, ${TRIALS_PER_SESSION}::int) k
    where s.started_utc_ms >= ${start!} and s.started_utc_ms < ${end!} order by s.started_utc_ms, s.id, k`;
  await sql`
    insert into trial_metrics (trial_id, metric, left_n, left_mean, left_sd, right_n, right_mean, right_sd, difference,
      ci_low, ci_high, missing_left, missing_right, verdict, placement_uncertainty)
    select t.id, m, 20, 1, 1, 20, 1, 1, d, d - 1, d + 1, 0, 0, 'more than scatter', 1
    from trials t, unnest(${`{${STANCE_METRIC_KEYS.join(',')}}`}::text[]) m, lateral (select random() * 4 + length(m) * 0 as d) r
    where t.task in ('walk', 'run', 'strides', 'run-up') and t.started_utc_ms >= ${start!} and t.started_utc_ms < ${end!}
    order by t.started_utc_ms, t.id`;
}
