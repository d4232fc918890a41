/** Stores to back up, and everything in one as text, to compare. */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import postgres from 'postgres';
import { addAccount } from '../../server/src/store/accounts.ts';
import { addAnnotation } from '../../server/src/store/annotations.ts';
import { createAthlete } from '../../server/src/store/athletes.ts';
import { addAuditEntry } from '../../server/src/store/audit.ts';
import { addCarer, addConsent } from '../../server/src/store/care.ts';
import { connect } from '../../server/src/store/database.ts';
import type { Database, Db } from '../../server/src/store/database.ts';
import { createRawLog } from '../../server/src/store/raw-batches.ts';
import {
  reAnalysisRuns,
  returnCriteria,
  returnDecisions,
  returnEpisodes,
  signIns,
} from '../../server/src/store/schema/index.ts';
import { setRetention } from '../../server/src/store/retention.ts';
import { placeSensor } from '../../server/src/store/sensors.ts';
import { createSession, endSession, saveMounting, startLeadIn, stopLeadIn } from '../../server/src/store/sessions.ts';
import { failTrial, saveResult } from '../../server/src/store/save-result.ts';
import { closeTrial, createTrial } from '../../server/src/store/trials.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { makeAsymmetry, makeResult, makeStance } from '../support/sample-result.ts';

/** Everything that ends, divides or quotes something in the text format of COPY, in JSON or in SQL. */
export const AWKWARD_NAME = `Tab\t, line\nbreak, \\. end, \\N null, "quotes" 'n' {braces}, snowman \u2603 \u{1F3C3}`;

/** A row or more in every table. */
export async function fillStore(database: Database): Promise<void> {
  const { db } = database;
  const names = [AWKWARD_NAME, '\\.', '\\N', ' '];
  for (const [k, name] of names.entries()) {
    const athlete = await createAthlete(db, name, k);
    await placeSensor(db, `pelvis-${k}`, athlete.id, 'pelvis');
    await placeSensor(db, `sternum-${k}`, athlete.id, 'sternum');
    const session = await createSession(db, athlete.id, { pelvis: `pelvis-${k}`, sternum: `sternum-${k}` }, 500);
    await startLeadIn(db, session.id, 'reference_stand', 600);
    await stopLeadIn(db, session.id, 700);
    await saveMounting(db, session.id, 'pelvis', {
      source: 'lead-in',
      quaternion: [0.1 + 0.2, 5e-324, -1 / 3, 1e300],
      frontalUncertaintyDeg: 0.1,
      remarks: [AWKWARD_NAME],
      details: { bows: 2 },
    });
    for (const task of ['walk', 'run'] as const) {
      const { id: trial } = await createTrial(db, session, task, 1000);
      await closeTrial(db, trial, 9000);
      const result = { ...makeResult(), asymmetry: { swingSideDropDeg: makeAsymmetry({ difference: -0 }) } };
      result.stances = Array.from({ length: 40 }, (_, i) => makeStance(i, i % 2 ? 'left' : 'right'));
      if (task === 'run') await saveResult(db, trial, result, { dataComplete: true, problem: null });
      else await failTrial(db, trial, { problem: 'too\tshort', dataComplete: false });
    }
    await endSession(db, session.id, 10_000);
    await fillReturn(db, athlete.id, session.id, k);
    await fillAccess(db, athlete.id, k);
    await createRawLog(database).append(
      Array.from({ length: 50 }, (_, i) => makeRawBatch({ deviceId: `pelvis-${k}`, firstSequence: i * 8 })),
    );
  }
  await createRawLog(database).append([makeRawBatch({ deviceId: 'worn-by-nobody', firstTickUs: 2 ** 53 - 2 })]);
}

/** An account that has signed in, who cares for the athlete, what was consented to, and the audit of it. */
async function fillAccess(db: Db, athleteId: string, k: number): Promise<void> {
  const account = await addAccount(db, {
    ...{
      login: `athlete-${k}`,
      name: AWKWARD_NAME,
      roles: ['athlete', 'coach'],
      athleteId,
      passwordHash: '$argon2id$',
    },
    ...{ passwordIsFirst: k % 2 === 0, createdUtcMs: 407, closedUtcMs: k === 0 ? null : 408 },
  });
  const times = { tokenUtcMs: 409, startedUtcMs: 409, seenUtcMs: 410 };
  await db.insert(signIns).values({ accountId: account!.id, tokenHash: new Uint8Array(32).fill(k), ...times });
  await addCarer(db, athleteId, account!.id, 411);
  await addConsent(db, {
    ...{ athleteId, purpose: 'recording', givenByName: AWKWARD_NAME, guardianOf: 'mother', givenUtcMs: 412 },
    ...{ recordedByName: null, withdrawnUtcMs: 413, withdrawnByName: AWKWARD_NAME },
  });
  const action = 'GET /api/athletes/:id/history';
  await addAuditEntry(db, { utcMs: 414, accountId: account!.id, action, athleteId, refusedStatus: 403 });
  await setRetention(db, 12 * (k + 1), 415);
}

/** Annotations, a return episode with all that hangs on it, and a run of re-analysis. */
async function fillReturn(db: Db, athleteId: string, trialId: string, k: number): Promise<void> {
  const said = { athleteId, atUtcMs: 400, authorName: AWKWARD_NAME, createdUtcMs: 401 };
  await addAnnotation(db, { ...said, kind: 'pain', side: 'left', painLevel: k, text: AWKWARD_NAME });
  await addAnnotation(db, { ...said, kind: 'surface', side: null, painLevel: null, text: 'wet grass' });
  const [episode] = await db
    .insert(returnEpisodes)
    .values({
      athleteId,
      onsetUtcMs: 400,
      affectedSide: 'left',
      question: AWKWARD_NAME,
      baseline: 'before the injury',
      createdUtcMs: 402,
    })
    .returning();
  const episodeId = episode!.id;
  const criterion = { task: 'run', metric: 'swingSideDropDeg', limit: 1 / 3, sessionsInARow: 3 } as const;
  await db.insert(returnCriteria).values({ ...criterion, episodeId, createdUtcMs: 403 });
  const decision = { decidedUtcMs: 404, deciderName: AWKWARD_NAME, decision: 'Easy running.', reason: AWKWARD_NAME };
  await db.insert(returnDecisions).values({ ...decision, episodeId });
  await db.insert(reAnalysisRuns).values({
    version: `test-${k}`,
    state: k === 0 ? 'running' : 'done',
    startedUtcMs: 405,
    endedUtcMs: k === 0 ? null : 406,
    trialsTotal: 2,
    lastTrialStartedUtcMs: 1000,
    lastTrialId: trialId,
  });
}

/** Every row of every table as text, in order. */
export async function allRows(database: Database): Promise<Record<string, string[]>> {
  const { sql } = database;
  const tables = await sql`select tablename as name from pg_tables where schemaname = 'public' order by 1`;
  const found: Record<string, string[]> = {};
  for (const { name } of tables) {
    const rows = await sql`select each::text as row from ${sql(name)} as each order by 1`;
    found[name] = rows.map(({ row }) => row as string);
  }
  return found;
}

/** Columns with type and default, indexes, constraints and the record of migrations. */
export async function tableShapes({ sql }: Database): Promise<unknown> {
  return {
    columns: [
      ...(await sql`
        select table_name, column_name, ordinal_position, data_type, is_nullable, column_default, is_identity
        from information_schema.columns where table_schema = 'public' order by 1, 3`),
    ],
    indexes: [...(await sql`select indexdef from pg_indexes where schemaname = 'public' order by 1`)],
    constraints: [
      ...(await sql`
        select conrelid::regclass::text as table, pg_get_constraintdef(oid) as text from pg_constraint
        where connamespace = 'public'::regnamespace order by 1, 2`),
    ],
    migrations: [...(await sql`select hash, created_at from drizzle.__drizzle_migrations order by created_at`)],
  };
}

/** Back to a database in which no server has ever started. */
export async function makeBare(url: string): Promise<void> {
  const sql = postgres(url, { max: 1, onnotice: () => undefined });
  await sql.unsafe('drop schema public cascade; create schema public; drop schema if exists drizzle cascade');
  await sql.end();
}

/** Opens, uses and closes. */
export async function using<T>(url: string, use: (database: Database) => Promise<T>): Promise<T> {
  const database = connect(url);
  try {
    return await use(database);
  } finally {
    await database.close();
  }
}

export async function tableNames(url: string): Promise<string[]> {
  return using(url, async ({ sql }) => {
    const rows =
      await sql`select tablename as name from pg_tables where schemaname in ('public', 'drizzle') order by 1`;
    return rows.map(({ name }) => name as string);
  });
}

export async function makeFolder(): Promise<{ file(name: string): string; folder: string; remove(): Promise<void> }> {
  const folder = await mkdtemp(path.join(tmpdir(), 'ambipede-backup-'));
  return {
    folder,
    file: (name) => path.join(folder, name),
    remove: () => rm(folder, { recursive: true, force: true }),
  };
}
