/** What trials of standing say, which have no stances. */
import { and, asc, eq, inArray, isNotNull, sql } from 'drizzle-orm';
import { TASKS, TASK_INFO } from '@ambipede/shared';
import type { QuietStand, SingleLegStand } from '@ambipede/shared';
import type { StandTrial } from '../history/ladder-stands.ts';
import type { DbOrTx } from './database.ts';
import { sessions, trials } from './schema/index.ts';

const STANDING = TASKS.filter((task) => ['stand', 'single-leg-stand'].includes(TASK_INFO[task].rung));

/** Final trials that were not discarded, oldest first. */
export async function listStandTrials(db: DbOrTx, athleteId: string): Promise<StandTrial[]> {
  const rows = await db
    .select({
      sessionId: trials.sessionId,
      sessionUtcMs: sessions.startedUtcMs,
      version: trials.version,
      stand: sql<QuietStand[]>`${trials.taskSummary}->'stand'`,
      singleLegStand: sql<SingleLegStand[]>`${trials.taskSummary}->'singleLegStand'`,
    })
    .from(sessions)
    .innerJoin(trials, eq(trials.sessionId, sessions.id))
    .where(
      and(
        eq(sessions.athleteId, athleteId),
        inArray(trials.task, STANDING),
        eq(trials.state, 'final'),
        eq(trials.discarded, false),
        isNotNull(trials.taskSummary),
      ),
    )
    .orderBy(asc(sessions.startedUtcMs), asc(trials.startedUtcMs), asc(trials.id));
  return rows.map(({ version, ...row }) => ({ ...row, version: version ?? '' }));
}
