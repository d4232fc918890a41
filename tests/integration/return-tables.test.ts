/** What the database holds to about return episodes and runs of re-analysis, whoever writes to it. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createAthlete } from '../../server/src/store/athletes.ts';
import type { Database } from '../../server/src/store/database.ts';
import {
  reAnalysisRuns,
  returnCriteria,
  returnDecisions,
  returnEpisodes,
} from '../../server/src/store/schema/index.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';

let server: TestPostgres;
let database: Database;
beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
});
afterAll(() => server.stop());

async function newEpisode(): Promise<{ athleteId: string; episodeId: string }> {
  const { id: athleteId } = await createAthlete(database.db, 'Somebody', 0);
  const values = { athleteId, onsetUtcMs: 1, question: 'Jumping again?', createdUtcMs: 2 };
  const [episode] = await database.db
    .insert(returnEpisodes)
    .values({ ...values, affectedSide: 'left', baseline: 'unaffected side' })
    .returning();
  return { athleteId, episodeId: episode!.id };
}

function decide(episodeId: string, changes: object = {}) {
  const values = { episodeId, decidedUtcMs: 3, deciderName: 'Ruta', decision: 'Hold.', reason: 'Pain on landing.' };
  return database.db
    .insert(returnDecisions)
    .values({ ...values, ...changes })
    .returning();
}

test('a decision is neither changed nor removed', async () => {
  const { episodeId } = await newEpisode();
  const [decision] = await decide(episodeId);
  const { sql } = database;
  await expect(sql`update return_decisions set reason = 'Other.' where id = ${decision!.id}`).rejects.toThrow(
    /never changed/,
  );
  await expect(sql`delete from return_decisions where id = ${decision!.id}`).rejects.toThrow(
    /never changed or removed/,
  );
  expect(await sql`select reason from return_decisions where id = ${decision!.id}`).toEqual([
    { reason: 'Pain on landing.' },
  ]);
});

test('decisions go with their athlete, and so does all that hangs on the episode', async () => {
  const { athleteId, episodeId } = await newEpisode();
  await decide(episodeId);
  const criterion = { task: 'run', metric: 'swingSideDropDeg', limit: 2, sessionsInARow: 1 } as const;
  await database.db.insert(returnCriteria).values({ ...criterion, episodeId, createdUtcMs: 3 });
  await database.sql`delete from athletes where id = ${athleteId}`;
  for (const table of ['return_decisions', 'return_criteria']) {
    expect(await database.sql`select from ${database.sql(table)} where episode_id = ${episodeId}`).toHaveLength(0);
  }
});

test.each([{ reason: '  ' }, { deciderName: '' }])('a decision with %j is refused', async (changes) => {
  const { episodeId } = await newEpisode();
  await expect(decide(episodeId, changes)).rejects.toMatchObject({
    cause: { constraint_name: 'return_decisions_have_reason' },
  });
});

test.each([
  [{ limit: 0 }, 'return_criteria_limit_above_zero'],
  [{ sessionsInARow: 0 }, 'return_criteria_sessions_possible'],
])('a criterion with %j is refused', async (changes, constraint) => {
  const { episodeId } = await newEpisode();
  const criterion = { task: 'run', metric: 'swingSideDropDeg', limit: 2, sessionsInARow: 1 } as const;
  const insert = database.db.insert(returnCriteria).values({ ...criterion, episodeId, createdUtcMs: 3, ...changes });
  await expect(insert).rejects.toMatchObject({ cause: { constraint_name: constraint } });
});

test('one run of re-analysis at a time is under way, and any number have ended', async () => {
  const run = (state: 'running' | 'done') =>
    database.db.insert(reAnalysisRuns).values({ version: 'test-1', state, startedUtcMs: 1, trialsTotal: 0 });
  await run('done');
  await run('done');
  await run('running');
  await expect(run('running')).rejects.toMatchObject({ cause: { constraint_name: 're_analysis_runs_one_running' } });
});
