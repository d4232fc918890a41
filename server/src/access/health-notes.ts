/** Which annotations are about somebody's health, and who is shown them. */
import type { Annotation, AnnotationKind, AthleteRight } from '@ambipede/shared';

export function isOfHealth(kind: AnnotationKind): boolean {
  return kind === 'injury' || kind === 'pain';
}

export function shownAnnotations(annotations: readonly Annotation[], rights: ReadonlySet<AthleteRight>): Annotation[] {
  return annotations.filter(({ kind }) => rights.has('see-health') || !isOfHealth(kind));
}
