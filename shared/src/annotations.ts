/**
 * What people write down along an athlete's history. A picture of the person's own words and numbers; nothing is computed
 * from them.
 *
 *   GET    /api/athletes/:id/annotations                    Annotation[] oldest first
 *   POST   /api/athletes/:id/annotations      NewAnnotation -> Annotation
 *   PATCH  /api/athletes/:id/annotations/:annotationId   AnnotationChange -> Annotation
 *   DELETE /api/athletes/:id/annotations/:annotationId   -> {id}
 */
import type { Side } from './body.ts';

export const ANNOTATION_KINDS = ['injury', 'pain', 'surface', 'shoes', 'note'] as const;
export type AnnotationKind = (typeof ANNOTATION_KINDS)[number];

/** Whole numbers from no pain to the worst imaginable. */
export const PAIN_LEVEL_MIN = 0;
export const PAIN_LEVEL_MAX = 10;
export const ANNOTATION_TEXT_CHARACTERS_MAX = 2000;

export interface Annotation {
  id: string;
  athleteId: string;
  kind: AnnotationKind;
  /** When it was so, which may be long before it was written down. */
  atUtcMs: number;
  /** Who says so, as typed: not checked by anything. */
  authorName: string;
  /** Of an injury or a pain; null where nobody said, and for the other kinds. */
  side: Side | 'both' | null;
  /** Of a pain; null for the other kinds. */
  painLevel: number | null;
  /** Which surface, which shoes, what injury; may be empty for a pain or an injury alone. */
  text: string;
  /** When it was written down. */
  createdUtcMs: number;
}

export type NewAnnotation = Pick<Annotation, 'kind' | 'atUtcMs' | 'authorName'> &
  Partial<Pick<Annotation, 'side' | 'painLevel' | 'text'>>;

/** What is not named stays as it is. The kind stays: delete the annotation and write another one. */
export type AnnotationChange = Partial<Omit<NewAnnotation, 'kind'>>;
