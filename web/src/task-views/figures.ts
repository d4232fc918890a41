/** Values of a task as they stand on screen. What is not known is a dash. */
import { fixed } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

export interface Fact {
  label: string;
  value: string;
  note?: string;
}

const unitful = (value: number | null, decimals: number, unit: string): string =>
  value === null ? TEXTS.dash : fixed(value, decimals) + unit;

export const degText = (value: number | null): string => unitful(value, 1, '°');
export const secondsText = (value: number | null, decimals = 2): string => unitful(value, decimals, '\u00a0s');
export const rateText = (value: number | null): string => unitful(value, 0, '°/s');
export const gText = (value: number | null): string => unitful(value, 1, '\u00a0g');

/** A signed angle as its size and the word for its sign, as far as the shown digits tell. */
export function wordedDeg(value: number | null, words: { plus: string; minus: string; zero: string }): string {
  if (value === null) return TEXTS.dash;
  const shown = Number(value.toFixed(1));
  return `${degText(Math.abs(shown))} ${shown > 0 ? words.plus : shown < 0 ? words.minus : words.zero}`;
}
