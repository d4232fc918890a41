import { notFound } from '../errors.ts';
import { athleteExists } from '../store/athletes.ts';
import type { Db } from '../store/database.ts';

/** Throws the answer 404 when there is no such athlete. */
export async function requireAthlete(db: Db, id: string): Promise<void> {
  if (!(await athleteExists(db, id))) throw notFound('athlete', '/api/athletes');
}
