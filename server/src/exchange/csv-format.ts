/** Guesses how a text of values is written, from its beginning: what parts its cells, its decimal mark, where values begin. */
import { DELIMITERS, type CsvFormat, type DecimalMark, type Delimiter } from '@ambipede/shared';
import { cellsOf, linesOf, numberIn } from './csv-lines.ts';

/** What is looked at. */
const LINES_MAX = 300;
/** Three axes of two quantities: fewer columns hold no sensor. */
const COLUMNS_MIN = 6;

/** Null when no row of at least six numbers is found. */
export function guessFormat(text: string): CsvFormat | null {
  const lines = [...take(linesOf(text), LINES_MAX)];
  let best: { format: CsvFormat; rows: number } | null = null;
  for (const delimiter of DELIMITERS) {
    for (const decimal of marksBeside(delimiter)) {
      const valued = lines.map(({ line }) => valuesIn(line, delimiter, decimal));
      const columns = commonest(valued.filter((count) => count >= COLUMNS_MIN));
      if (columns === 0) continue;
      const rows = valued.filter((count) => count === columns).length;
      const first = lines[valued.indexOf(columns)];
      // Semicolons and tabs that fit as well as commas are meant: the comma can be a decimal mark then.
      if (first && (best === null || rows >= best.rows))
        best = { format: { delimiter, decimal, firstLine: first.number }, rows };
    }
  }
  return best?.format ?? null;
}

function marksBeside(delimiter: Delimiter): DecimalMark[] {
  return delimiter === ',' ? ['.'] : [',', '.'];
}

/** Cells of a row in which nearly all are numbers; 0 for any other line. A column of words, or an empty one, is no hindrance. */
function valuesIn(line: string, delimiter: string, decimal: DecimalMark): number {
  const cells = cellsOf(line, delimiter);
  const numbers = cells.filter((cell) => Number.isFinite(numberIn(cell, decimal)));
  return numbers.length >= Math.max(COLUMNS_MIN, cells.length / 2) ? cells.length : 0;
}

function commonest(values: readonly number[]): number {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? 0;
}

function* take<T>(values: Iterable<T>, most: number): Generator<T> {
  let taken = 0;
  for (const value of values) {
    if (taken >= most) return;
    taken += 1;
    yield value;
  }
}

/** The names of the columns: the line above the first row, when it has as many cells and is not one of values itself. */
export function namesOf(text: string, { delimiter, decimal, firstLine }: CsvFormat, columns: number): string[] {
  let above: string | null = null;
  for (const { line, number } of linesOf(text)) {
    if (number >= firstLine) break;
    above = line;
  }
  const cells = above === null ? [] : cellsOf(above, delimiter).map((cell) => cell.trim());
  const isHeader = cells.length === columns && cells.some((cell) => numberIn(cell, decimal) === undefined);
  return Array.from({ length: columns }, (_, i) => (isHeader && cells[i] ? cells[i] : String(i + 1)));
}
