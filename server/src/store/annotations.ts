/** Annotations of an athlete. Each change is one statement. */
import { and, asc, eq } from 'drizzle-orm';
import type { Annotation, AnnotationChange } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { annotations } from './schema/index.ts';

export async function addAnnotation(db: DbOrTx, annotation: Omit<Annotation, 'id'>): Promise<Annotation> {
  const [row] = await db.insert(annotations).values(annotation).returning();
  if (!row) throw new Error('the new annotation was not returned');
  return row;
}

/** Oldest first. */
export async function listAnnotations(db: DbOrTx, athleteId: string): Promise<Annotation[]> {
  return db
    .select()
    .from(annotations)
    .where(eq(annotations.athleteId, athleteId))
    .orderBy(asc(annotations.atUtcMs), asc(annotations.createdUtcMs), asc(annotations.id));
}

/** Null when this athlete has no such annotation. */
export async function findAnnotation(db: DbOrTx, athleteId: string, id: string): Promise<Annotation | null> {
  const [row] = await db.select().from(annotations).where(ofAthlete(athleteId, id));
  return row ?? null;
}

/** Null when this athlete has no such annotation. */
export async function changeAnnotation(
  db: DbOrTx,
  athleteId: string,
  id: string,
  change: AnnotationChange,
): Promise<Annotation | null> {
  const [row] = await db.update(annotations).set(change).where(ofAthlete(athleteId, id)).returning();
  return row ?? null;
}

/** False when this athlete has no such annotation. */
export async function removeAnnotation(db: DbOrTx, athleteId: string, id: string): Promise<boolean> {
  const rows = await db.delete(annotations).where(ofAthlete(athleteId, id)).returning({ id: annotations.id });
  return rows.length > 0;
}

function ofAthlete(athleteId: string, id: string) {
  return and(eq(annotations.athleteId, athleteId), eq(annotations.id, id));
}
