/** Return episodes with their criteria and decisions. Each change is one statement. */
import { and, asc, desc, eq } from 'drizzle-orm';
import type {
  ReturnCriterion,
  ReturnCriterionChange,
  ReturnDecision,
  ReturnEpisode,
  ReturnEpisodeChange,
} from '@ambipede/shared';
import type { StanceRung } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { returnCriteria, returnDecisions, returnEpisodes } from './schema/index.ts';

export async function addReturnEpisode(db: DbOrTx, episode: Omit<ReturnEpisode, 'id'>): Promise<ReturnEpisode> {
  return theOne(await db.insert(returnEpisodes).values(episode).returning());
}

/** Latest onset first. */
export async function listReturnEpisodes(db: DbOrTx, athleteId: string): Promise<ReturnEpisode[]> {
  return db
    .select()
    .from(returnEpisodes)
    .where(eq(returnEpisodes.athleteId, athleteId))
    .orderBy(desc(returnEpisodes.onsetUtcMs), desc(returnEpisodes.createdUtcMs), asc(returnEpisodes.id));
}

/** Null when this athlete has no such episode. */
export async function findReturnEpisode(db: DbOrTx, athleteId: string, id: string): Promise<ReturnEpisode | null> {
  const [row] = await db.select().from(returnEpisodes).where(episodeOf(athleteId, id));
  return row ?? null;
}

/** Null when this athlete has no such episode. */
export async function changeReturnEpisode(
  db: DbOrTx,
  athleteId: string,
  id: string,
  change: ReturnEpisodeChange,
): Promise<ReturnEpisode | null> {
  const [row] = await db.update(returnEpisodes).set(change).where(episodeOf(athleteId, id)).returning();
  return row ?? null;
}

export async function addReturnCriterion(db: DbOrTx, criterion: Omit<ReturnCriterion, 'id'>): Promise<ReturnCriterion> {
  return toCriterion(theOne(await db.insert(returnCriteria).values(criterion).returning()));
}

/** In the order in which they were added. */
export async function listReturnCriteria(db: DbOrTx, episodeId: string): Promise<ReturnCriterion[]> {
  const rows = await db
    .select()
    .from(returnCriteria)
    .where(eq(returnCriteria.episodeId, episodeId))
    .orderBy(asc(returnCriteria.createdUtcMs), asc(returnCriteria.id));
  return rows.map(toCriterion);
}

/** Null when this episode has no such criterion. */
export async function changeReturnCriterion(
  db: DbOrTx,
  episodeId: string,
  id: string,
  change: ReturnCriterionChange,
): Promise<ReturnCriterion | null> {
  const [row] = await db.update(returnCriteria).set(change).where(criterionOf(episodeId, id)).returning();
  return row ? toCriterion(row) : null;
}

/** False when this episode has no such criterion. */
export async function removeReturnCriterion(db: DbOrTx, episodeId: string, id: string): Promise<boolean> {
  const rows = await db.delete(returnCriteria).where(criterionOf(episodeId, id)).returning({ id: returnCriteria.id });
  return rows.length > 0;
}

export async function addReturnDecision(db: DbOrTx, decision: Omit<ReturnDecision, 'id'>): Promise<ReturnDecision> {
  return theOne(await db.insert(returnDecisions).values(decision).returning());
}

/** Oldest first. */
export async function listReturnDecisions(db: DbOrTx, episodeId: string): Promise<ReturnDecision[]> {
  return db
    .select()
    .from(returnDecisions)
    .where(eq(returnDecisions.episodeId, episodeId))
    .orderBy(asc(returnDecisions.decidedUtcMs), asc(returnDecisions.id));
}

function toCriterion(row: typeof returnCriteria.$inferSelect): ReturnCriterion {
  // The routes let in tasks with stances alone.
  return { ...row, task: row.task as StanceRung };
}

function theOne<T>([row]: T[]): T {
  if (row === undefined) throw new Error('the new row was not returned');
  return row;
}

function episodeOf(athleteId: string, id: string) {
  return and(eq(returnEpisodes.athleteId, athleteId), eq(returnEpisodes.id, id));
}

function criterionOf(episodeId: string, id: string) {
  return and(eq(returnCriteria.episodeId, episodeId), eq(returnCriteria.id, id));
}
