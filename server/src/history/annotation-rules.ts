/** What each kind of annotation must and must not say. The message says what to do. */
import type { Annotation, AnnotationKind } from '@ambipede/shared';

type Said = Pick<Annotation, 'kind' | 'atUtcMs' | 'side' | 'painLevel' | 'text'>;

/** A tablet whose clock runs ahead may still write. */
export const AHEAD_MS_MAX = 60 * 60_000;

const NEEDS_TEXT: Partial<Record<AnnotationKind, string>> = {
  surface: 'Say in text which surface it was.',
  shoes: 'Say in text which shoes they were.',
  note: 'Write the note into text.',
};

/** @returns null when the annotation is as it should be */
export function faultOfAnnotation(said: Said, nowUtcMs: number): string | null {
  const { kind, side, painLevel, text } = said;
  const isBodily = kind === 'injury' || kind === 'pain';
  if (kind === 'pain' && painLevel === null)
    return 'A pain needs painLevel, a whole number from 0 (none) to 10 (worst).';
  if (kind !== 'pain' && painLevel !== null)
    return `painLevel belongs to a pain, not to kind ${kind}. Leave it out, or add a second annotation of kind pain.`;
  if (!isBodily && side !== null) return `A side belongs to an injury or a pain, not to kind ${kind}. Leave it out.`;
  const missing = NEEDS_TEXT[kind];
  if (missing && text.trim() === '') return missing;
  if (said.atUtcMs > nowUtcMs + AHEAD_MS_MAX)
    return 'atUtcMs lies in the future. Give the time at which it was so, in ms since 1970 UTC; check the clock of this device.';
  return null;
}
