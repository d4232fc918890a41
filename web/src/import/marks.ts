/** Parts of the recording as they are being typed. */
import type { ImportMark } from '@ambipede/shared';
import { IMPORT_TEXTS } from '../texts-import.ts';
import { numberOf } from './typed.ts';

export interface MarkChoice {
  kind: ImportMark['kind'];
  start: string;
  end: string;
}

export function markProblems({ start, end }: MarkChoice): { start?: string; end?: string } {
  const [startS, endS] = [numberOf(start), numberOf(end)];
  const { wrong, order } = IMPORT_TEXTS.marks;
  if (startS === null) return endS === null ? { start: wrong, end: wrong } : { start: wrong };
  if (endS === null) return { end: wrong };
  return endS > startS ? {} : { end: order };
}

/** Null when one of them is wrong. */
export function marksOf(choices: readonly MarkChoice[]): ImportMark[] | null {
  if (choices.some((choice) => Object.keys(markProblems(choice)).length > 0)) return null;
  return choices.map(({ kind, start, end }) => ({ kind, startS: numberOf(start) ?? 0, endS: numberOf(end) ?? 0 }));
}
