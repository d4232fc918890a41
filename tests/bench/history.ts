/**
 * `npm run bench:history`: how long the queries behind each view of the history take in a database of five years and 200
 * athletes, and the plan of each. Written to docs/history-queries.md.
 */
import { writeFileSync } from 'node:fs';
import { drizzle } from 'drizzle-orm/postgres-js';
import { format, resolveConfig } from 'prettier';
import { STANCE_METRIC_KEYS, STANCE_RUNGS } from '../../shared/src/index.ts';
import type { ReturnCriterion } from '../../shared/src/index.ts';
import { criterionState } from '../../server/src/history/return-state.ts';
import { ladderPairs } from '../../server/src/history/ladder.ts';
import { listAnnotations } from '../../server/src/store/annotations.ts';
import type { Db, Sql } from '../../server/src/store/database.ts';
import * as schema from '../../server/src/store/schema/index.ts';
import { listTrialDifferences, listTrialDifferencesOf } from '../../server/src/store/session-history.ts';
import { listStandTrials } from '../../server/src/store/stands.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import { ATHLETES, ONSET_UTC_MS, SESSIONS, TRIALS_PER_SESSION, fillHistory } from './history-rows.ts';

const DOCUMENT = 'docs/history-queries.md';
const METRIC = 'swingSideDropDeg';
/** A full episode: 20 criteria. */
const CRITERIA = STANCE_METRIC_KEYS.slice(0, 5).flatMap((metric) => STANCE_RUNGS.map((task) => ({ task, metric })));

type View = (db: Db, athleteId: string) => Promise<unknown>;
const VIEWS: Record<string, View> = {
  'session history, comparison: trials': (db, id) => listTrialDifferences(db, id, 'run', METRIC),
  'session history: annotations': (db, id) => listAnnotations(db, id),
  'ladder: trials': (db, id) => listTrialDifferencesOf(db, id, ladderPairs(METRIC)),
  'ladder: stands': (db, id) => listStandTrials(db, id),
  'return episode of 20 criteria: trials': (db, id) => listTrialDifferencesOf(db, id, CRITERIA),
};

interface Asked {
  text: string;
  params: unknown[];
}

function watched(sql: Sql): { db: Db; last: () => Asked } {
  let asked: Asked = { text: '', params: [] };
  const logger = { logQuery: (text: string, params: unknown[]) => void (asked = { text, params }) };
  return { db: drizzle(sql, { schema, logger }), last: () => asked };
}

function quantile(sorted: readonly number[], share: number): string {
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]!.toFixed(1);
}

async function timesOf(ids: readonly string[], run: (id: string) => unknown): Promise<number[]> {
  const times: number[] = [];
  for (const id of ids) {
    const start = performance.now();
    await run(id);
    times.push(performance.now() - start);
  }
  return times.sort((a, b) => a - b);
}

interface Measured {
  /** [p50, p95] by what was asked, ms. */
  times: Map<string, [p50: string, p95: string]>;
  plans: string[];
  metrics: number;
  version: string;
}

async function measure(serverUrl?: string): Promise<Measured> {
  const server = await startTestPostgres(serverUrl);
  try {
    const { sql } = await server.newDatabase();
    const { db, last } = watched(sql);
    const start = performance.now();
    await fillHistory(sql);
    console.log(`filled in ${((performance.now() - start) / 1000).toFixed(0)} s`);
    const ids = (await sql<{ id: string }[]>`select id from athletes order by id`).map(({ id }) => id);
    const [counted] =
      await sql`select count(*)::int as n, current_setting('server_version') as version from trial_metrics`;
    const times: Measured['times'] = new Map();
    const plans: string[] = [];
    const report = (name: string, sorted: readonly number[]): void => {
      const both: [string, string] = [quantile(sorted, 0.5), quantile(sorted, 0.95)];
      console.log(`${name}: ${both.join(', ')}`);
      times.set(name, both);
    };
    for (const [name, view] of Object.entries(VIEWS)) {
      report(name, await timesOf(ids, (id) => view(db, id)));
      const { text, params } = last();
      const plan = await sql.unsafe(`explain (analyze, buffers) ${text}`, params as string[]);
      plans.push(`### ${name}\n\n\`\`\`text\n${plan.map((line) => line['QUERY PLAN'] as string).join('\n')}\n\`\`\`\n`);
    }
    const trials = await listTrialDifferences(db, ids[0]!, 'run', METRIC);
    const episode = { onsetUtcMs: ONSET_UTC_MS, baseline: 'before the injury' } as const;
    const criterion: ReturnCriterion = {
      ...{ id: '', episodeId: '', createdUtcMs: 0 },
      ...{ task: 'run', metric: METRIC, limit: 2, sessionsInARow: 3 },
    };
    report('state of one criterion, reckoned', await timesOf(ids, () => criterionState(episode, criterion, trials)));
    return { times, plans, metrics: Number(counted?.['n']), version: String(counted?.['version']).split(' ')[0]! };
  } finally {
    await server.stop();
  }
}

const embedded = await measure();
const yours = process.env['DATABASE_URL'] ? await measure(process.env['DATABASE_URL']) : null;
if (!yours) console.log('DATABASE_URL is not set: not measured on a PostgreSQL of yours.');
const text = documentOf(embedded, yours);
writeFileSync(DOCUMENT, await format(text, { ...(await resolveConfig(DOCUMENT)), filepath: DOCUMENT }));

function documentOf({ times, plans, metrics, version }: Measured, yours: Measured | null): string {
  const rows = [...times].map(([name, [p50, p95]]) => {
    const other = yours?.times.get(name) ?? ['not measured', 'not measured'];
    return `| ${name} | ${p50} | ${p95} | ${other.join(' | ')} |`;
  });
  return `# Queries of the history

Written by \`npm run bench:history\`: ${ATHLETES} athletes, five years of one session a week (${SESSIONS} sessions,
${SESSIONS * TRIALS_PER_SESSION} trials, ${metrics} rows of trial metrics), in the embedded PostgreSQL
(${version}) and in one of the machine's system (${yours?.version ?? 'not measured'}, by \`DATABASE_URL\`), each with its settings as they are. Raw samples and curves are left out: no query here reads them. Each view once per athlete, one after the other, in ms at the server,
with the driver's share; other work on the machine counts too.

| query | embedded p50 | p95 | system p50 | p95 |
| ----- | --: | --: | --: | --: |
${rows.join('\n')}

No index was added for them: no plan reads a whole table. Each starts from the sessions of the athlete and reaches trials and
metrics over the indexes that the tables have.

## Plans

Of the athlete who came last.

${plans.join('\n')}`;
}
