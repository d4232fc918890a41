/** What is being typed about a return episode, what is wrong with it, and what becomes of it. */
import { RETURN_LIMIT_MAX } from '@ambipede/shared';
import { TEXTS } from '../texts.ts';

const DAY = /^(\d{4})-(\d{2})-(\d{2})$/;
/** Digits with one point or comma: no signs, no exponents. */
const DECIMAL = /^\d+(?:[.,]\d+)?$/;

/** Start of that day where the page is looked at; null for no day. */
export function utcMsOfDay(text: string): number | null {
  const [, year, month, day] = DAY.exec(text)?.map(Number) ?? [];
  if (year === undefined || month === undefined || day === undefined) return null;
  const at = new Date(year, month - 1, day).getTime();
  return Number.isFinite(at) && at >= 0 ? at : null;
}

/** As a date field takes it. */
export function dayOf(utcMs: number): string {
  const date = new Date(utcMs);
  const two = (part: number): string => String(part).padStart(2, '0');
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

/** Null for what is no limit. */
export function limitOf(text: string): number | null {
  const typed = text.trim();
  const limit = DECIMAL.test(typed) ? Number(typed.replace(',', '.')) : NaN;
  return limit > 0 && limit <= RETURN_LIMIT_MAX ? limit : null;
}

/** What is wrong with words that have to be there. */
export function wordsProblem(text: string, most: number): string | undefined {
  if (text.trim() === '') return TEXTS.return.blank;
  return text.length > most ? TEXTS.return.long(most) : undefined;
}
