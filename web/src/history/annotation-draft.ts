/** An annotation as it is being typed, and what becomes of it. What each kind must say is what the server asks for. */
import {
  ANNOTATION_TEXT_CHARACTERS_MAX,
  NAME_CHARACTERS_MAX,
  type Annotation,
  type AnnotationChange,
  type AnnotationKind,
  type NewAnnotation,
} from '@ambipede/shared';
import { TEXTS } from '../texts.ts';

export interface AnnotationDraft {
  kind: AnnotationKind;
  /** Local time of this device, as `<input type="datetime-local">` has it. */
  at: string;
  author: string;
  side: Annotation['side'];
  /** Empty: not chosen. */
  pain: string;
  text: string;
}

export type AnnotationProblems = Partial<Record<'at' | 'author' | 'pain' | 'text', string>>;

export function hasSide(kind: AnnotationKind): boolean {
  return kind === 'injury' || kind === 'pain';
}

export function draftOf(annotation: Annotation | null, nowUtcMs: number): AnnotationDraft {
  return {
    kind: annotation?.kind ?? 'note',
    at: localMinute(annotation?.atUtcMs ?? nowUtcMs),
    author: annotation?.authorName ?? '',
    side: annotation?.side ?? null,
    pain: annotation?.painLevel == null ? '' : String(annotation.painLevel),
    text: annotation?.text ?? '',
  };
}

export function problemsOf({ kind, at, author, pain, text }: AnnotationDraft, nowUtcMs: number): AnnotationProblems {
  const { wrong } = TEXTS.annotations;
  const problems: AnnotationProblems = {};
  const atUtcMs = utcMsOf(at);
  if (!(atUtcMs >= 0)) problems.at = wrong.at;
  else if (atUtcMs > nowUtcMs) problems.at = wrong.future;
  if (author.trim() === '') problems.author = wrong.author;
  else if (author.trim().length > NAME_CHARACTERS_MAX) problems.author = wrong.long(NAME_CHARACTERS_MAX);
  if (kind === 'pain' && pain === '') problems.pain = wrong.pain;
  if (text.trim() === '' && wrong.text[kind] !== '') problems.text = wrong.text[kind];
  else if (text.length > ANNOTATION_TEXT_CHARACTERS_MAX) problems.text = wrong.long(ANNOTATION_TEXT_CHARACTERS_MAX);
  return problems;
}

/** Only of a draft without problems. What does not belong to the kind is left behind. */
export function annotationOf({ kind, at, author, side, pain, text }: AnnotationDraft): NewAnnotation {
  return {
    kind,
    atUtcMs: utcMsOf(at),
    authorName: author.trim(),
    side: hasSide(kind) ? side : null,
    painLevel: kind === 'pain' ? Number(pain) : null,
    text: text.trim(),
  };
}

/** What was changed in the form, so that nothing is sent back that somebody else changed meanwhile; null: nothing was. */
export function changeOf(before: Annotation, draft: AnnotationDraft): AnnotationChange | null {
  const after = annotationOf(draft);
  const change: AnnotationChange = {};
  // The field has no seconds: an untouched time keeps its own.
  if (draft.at !== localMinute(before.atUtcMs)) change.atUtcMs = after.atUtcMs;
  if (after.authorName !== before.authorName) change.authorName = after.authorName;
  if (after.side !== before.side) change.side = after.side ?? null;
  if (after.painLevel !== before.painLevel) change.painLevel = after.painLevel ?? null;
  if (after.text !== before.text.trim()) change.text = after.text ?? '';
  return Object.keys(change).length === 0 ? null : change;
}

/** Newest first; the numbers count from the oldest on, so that a new one changes few of them. */
export function numbered(annotations: readonly Annotation[]): { annotation: Annotation; number: number }[] {
  return annotations.map((annotation, i) => ({ annotation, number: i + 1 })).reverse();
}

function localMinute(utcMs: number): string {
  const at = new Date(utcMs);
  const two = (value: number) => String(value).padStart(2, '0');
  const day = `${String(at.getFullYear()).padStart(4, '0')}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  return `${day}T${two(at.getHours())}:${two(at.getMinutes())}`;
}

/** NaN for what is not a time. */
function utcMsOf(local: string): number {
  return local === '' ? NaN : new Date(local).getTime();
}
