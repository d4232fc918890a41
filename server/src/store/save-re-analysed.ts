/** A result made anew from a trial's stored samples, into the store: only if the trial is still what it was made for. */
import { sql } from 'drizzle-orm';
import type { TrialSummary } from '@ambipede/shared';
import type { Db } from './database.ts';
import { cursorMove } from './re-analysis-runs.ts';
import { resultColumns, resultRows, type StoredResult } from './save-result.ts';
import { trials } from './schema/index.ts';

/**
 * Replaces the trial's result and counts the trial, in one statement: a server killed at any moment has done both or neither, and
 * a trial that the run has counted already is left alone. A trial that has another state or version by now is counted and
 * keeps what it has.
 *
 * @returns whether the result was stored
 */
export async function saveReAnalysed(
  db: Db,
  runId: string,
  expected: Pick<TrialSummary, 'id' | 'startedUtcMs' | 'state' | 'version'>,
  result: StoredResult,
  problem: string | null,
): Promise<boolean> {
  // The rows wait for the trial itself, so that whoever else stores a result of it comes before or after.
  const rows = await db.execute(sql`
    with counted as (${cursorMove(runId, expected, 'trialsDone')}),
    taken as (
      update ${trials} set ${resultColumns(result)}, problem = ${problem}
      where ${trials.id} = ${expected.id} and ${trials.state} = ${expected.state}
        and ${trials.version} is not distinct from ${expected.version} and exists (select from counted)
      returning ${trials.id}
    ), ${resultRows(expected.id, result, sql`exists (select from taken)`)}
    select from taken`);
  return rows.length > 0;
}
