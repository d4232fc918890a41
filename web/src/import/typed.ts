/** What is typed into fields of numbers and times. */
import { fixed } from '../numbers.ts';

const DECIMAL = /^\d+(?:[.,]\d+)?$/;
const WHOLE = /^[1-9]\d*$/;
const LOCAL_TIME = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?$/;
const BYTES_PER_MEGABYTE = 1e6;
const BYTES_PER_KILOBYTE = 1e3;

/** Not below 0; null for what is no number. */
export function numberOf(text: string): number | null {
  const typed = text.trim();
  return DECIMAL.test(typed) ? Number(typed.replace(',', '.')) : null;
}

/** From 1; null for what is no such number. */
export function lineOf(text: string): number | null {
  return WHOLE.test(text.trim()) ? Number(text.trim()) : null;
}

/** A field of day and time where the page is looked at, as ms UTC; null for none. */
export function utcMsOfLocal(text: string): number | null {
  const utcMs = LOCAL_TIME.test(text) ? new Date(text).getTime() : NaN;
  return Number.isFinite(utcMs) && utcMs >= 0 ? utcMs : null;
}

export function sizeText(bytes: number): string {
  return bytes < BYTES_PER_MEGABYTE / 10
    ? `${fixed(bytes / BYTES_PER_KILOBYTE, 1)} kB`
    : `${fixed(bytes / BYTES_PER_MEGABYTE, 1)} MB`;
}
