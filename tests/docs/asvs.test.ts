/** The table of OWASP ASVS 4.0.3 is counted again, and what it names is there. */
import { existsSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { TOP, isThere, read } from './markdown.ts';

const FILE = 'docs/security/asvs-4.0-level-2.md';
const STATES = ['met', 'not met', 'not applicable'] as const;
/**
 * Requirements of levels 1 and 2 in each chapter, without deleted ones: the English CSV of 4.0.3 in github.com/OWASP/ASVS, commit 47721f8,
 * folder 4.0/docs_en.
 */
const IN_CHAPTER = [38, 54, 18, 9, 30, 13, 12, 15, 7, 5, 8, 15, 13, 23];

const cellsOf = (line: string): string[] =>
  line
    .split('|')
    .slice(1, -1)
    .map((cell) => cell.trim());
const lines = read(FILE).split('\n');
const rows = lines
  .filter((line) => /^\| \d+\.\d+\.\d+ /.test(line))
  .map(cellsOf)
  .map(([id = '', level = '', asks = '', state = '', why = '']) => ({ id, level, asks, state, why }));
const counted = (levels: string[]): number[] => {
  const of = rows.filter(({ level }) => levels.includes(level));
  return [...STATES.map((state) => of.filter((row) => row.state === state).length), of.length];
};

describe('the table of ASVS 4.0.3', () => {
  it('has every requirement of levels 1 and 2 once', () => {
    expect(new Set(rows.map(({ id }) => id)).size).toBe(rows.length);
    const inChapter = IN_CHAPTER.map((_, k) => rows.filter(({ id }) => id.startsWith(`${k + 1}.`)).length);
    expect(inChapter).toEqual(IN_CHAPTER);
  });

  it('says of each whether it is met, and where or why', () => {
    const faulty = rows.filter(
      ({ level, asks, state, why }) =>
        !['1', '2'].includes(level) || !asks || !why || !(STATES as readonly string[]).includes(state),
    );
    expect(faulty).toEqual([]);
  });

  it('is counted at the top', () => {
    const [first, second] = lines.filter((line) => /^\| (1|2, with level 1) /.test(line)).map(cellsOf);
    expect(first?.slice(1).map(Number)).toEqual(counted(['1']));
    expect(second?.slice(1).map(Number)).toEqual(counted(['1', '2']));
  });

  it('names files that are there', () => {
    const named = rows.flatMap(({ id, why }) =>
      [...why.matchAll(/(?:docs|server|shared|tests|firmware-protocol|web)\/[\w./-]*\w/g)].map(([file]) => ({
        id,
        file,
      })),
    );
    expect(named.length).toBeGreaterThan(100);
    expect(named.filter(({ file }) => !isThere(file) && !existsSync(path.join(TOP, file)))).toEqual([]);
  });
});
