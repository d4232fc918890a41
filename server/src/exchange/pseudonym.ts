/** Names that stand for people and sessions in exports: always the same for the same one, and nothing is told by them. */
import { createHash } from 'node:crypto';

const DIGITS = 12;

/** 12 hexadecimal digits of SHA-256. Ids are random, so nobody who has not the id can work it out from these. */
export function pseudonymOf(kind: 'athlete' | 'session', id: string): string {
  return createHash('sha256').update(`${kind} ${id}`).digest('hex').slice(0, DIGITS);
}
