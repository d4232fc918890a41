/** What becomes of the words that are typed about a return episode. */
import { describe, expect, test } from 'vitest';
import { limitOf, utcMsOfDay } from '../../web/src/return/return-draft.ts';

describe('what is typed', () => {
  test('a limit is a number above 0, with a point or a comma, and nothing else', () => {
    expect(['2.5', ' 2,5 ', '3'].map(limitOf)).toEqual([2.5, 2.5, 3]);
    expect(['', '0', '-1', '1e3', '2.5 deg', '10000000'].map(limitOf)).toEqual(Array(6).fill(null));
  });

  test('a day is where the page is looked at, and no day is no time', () => {
    expect(utcMsOfDay('2026-06-01')).toBe(new Date(2026, 5, 1).getTime());
    expect(['', '1.6.2026', '2026-06'].map(utcMsOfDay)).toEqual([null, null, null]);
  });
});
