/**
 * The result of a trial into the store, each time as one statement: all or nothing, and the database may go away at any moment
 * (a transaction of the driver can end the process when it does so between two statements).
 */
import { getTableColumns, sql, type SQL } from 'drizzle-orm';
import type { PgTable } from 'drizzle-orm/pg-core';
import type { AnalysisResult } from '@ambipede/shared';
import { arrayLiteral } from './array-literal.ts';
import type { Db } from './database.ts';
import { stances, trialMetrics, trials } from './schema/index.ts';
import { metricRows } from './trial-metrics.ts';

/** What is stored of a result; angles and contacts are made again when somebody asks. */
export type StoredResult = Pick<
  AnalysisResult,
  'version' | 'stances' | 'asymmetry' | 'quality' | 'taskSummary' | 'waveforms'
>;

/** Replaces whatever result there was. */
export async function saveResult(
  db: Db,
  id: string,
  result: StoredResult,
  outcome: { problem: string | null; dataComplete: boolean },
): Promise<void> {
  await db.execute(sql`
    with ${resultRows(id, result)}
    update ${trials} set ${resultColumns(result)}, problem = ${outcome.problem}, data_complete = ${outcome.dataComplete}
    where ${trials.id} = ${id}`);
}

/** Parts of a statement that leave the trial with the stances and differences of this result alone. */
export function resultRows(id: string, { stances: kept, asymmetry }: StoredResult, onlyIf: SQL = sql`true`): SQL {
  const stanceRows = kept.map((stance) => ({ trialId: id, ...stance }));
  const keptMetrics = metricRows(id, asymmetry);
  return sql`
    stances_gone as (
      delete from ${stances} where ${stances.trialId} = ${id}
        and ${stances.id} <> all(${arrayLiteral(kept.map((stance) => stance.id))}::int[]) and ${onlyIf}
    ), metrics_gone as (
      delete from ${trialMetrics} where ${trialMetrics.trialId} = ${id}
        and ${trialMetrics.metric} <> all(${arrayLiteral(keptMetrics.map(({ metric }) => metric))}::text[]) and ${onlyIf}
    ), stances_kept as (${upsert(stances, 'stances', ['trialId', 'id'], stanceRows, onlyIf)}),
    metrics_kept as (${upsert(trialMetrics, 'trial_metrics', ['trialId', 'metric'], keptMetrics, onlyIf)})`;
}

/** What the trial itself has of a result, to be set by an update. */
export function resultColumns({ version, quality, taskSummary, waveforms }: StoredResult): SQL {
  return sql`state = 'final', version = ${version}, quality = ${json(quality)}, task_summary = ${json(taskSummary)},
      waveforms = ${json(waveforms)}`;
}

/** What an earlier result left is removed: it is not what the trial holds. */
export async function failTrial(
  db: Db,
  id: string,
  outcome: { problem: string; dataComplete: boolean },
): Promise<void> {
  await db.execute(sql`
    with stances_gone as (delete from ${stances} where ${stances.trialId} = ${id}),
    metrics_gone as (delete from ${trialMetrics} where ${trialMetrics.trialId} = ${id})
    update ${trials} set state = 'failed', version = null, quality = null, task_summary = null, waveforms = null,
      problem = ${outcome.problem}, data_complete = ${outcome.dataComplete}
    where ${trials.id} = ${id}`);
}

function json(value: unknown): SQL {
  return sql`${JSON.stringify(value)}::text::jsonb`;
}

/** Inserts `rows`, or overwrites those with the same key. Their keys are those of the table's columns in TypeScript. */
function upsert(
  table: PgTable,
  name: string,
  key: readonly string[],
  rows: readonly Record<string, unknown>[],
  onlyIf: SQL,
): SQL {
  const columns = Object.entries(getTableColumns(table)).map(([property, column]) => ({ property, name: column.name }));
  const named = rows.map((row) =>
    Object.fromEntries(columns.map(({ property, name: column }) => [column, row[property] ?? null])),
  );
  const list = (of: readonly { name: string }[]): SQL =>
    sql.join(
      of.map((column) => sql.identifier(column.name)),
      sql`, `,
    );
  const overwritten = columns.filter(({ property }) => !key.includes(property));
  const assignments = overwritten.map(
    (column) => sql`${sql.identifier(column.name)} = excluded.${sql.identifier(column.name)}`,
  );
  return sql`insert into ${table} (${list(columns)})
    select ${list(columns)} from jsonb_populate_recordset(null::${sql.identifier(name)}, ${json(named)})
    where ${onlyIf}
    on conflict (${list(columns.filter(({ property }) => key.includes(property)))})
    do update set ${sql.join(assignments, sql`, `)}`;
}
