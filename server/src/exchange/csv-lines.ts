/** Lines, cells and numbers of a text with a delimiter; quotes as in RFC 4180, but for line breaks inside a cell. */
import type { DecimalMark } from '@ambipede/shared';

const BYTE_ORDER_MARK = '\ufeff';

/** Lines with their number, from 1; blank ones are left out. */
export function* linesOf(text: string): Generator<{ line: string; number: number }> {
  let at = text.startsWith(BYTE_ORDER_MARK) ? 1 : 0;
  for (let number = 1; at < text.length; number += 1) {
    const end = text.indexOf('\n', at);
    const to = end === -1 ? text.length : end;
    const line = text.slice(at, text.charCodeAt(to - 1) === 13 && to > at ? to - 1 : to);
    if (line.trim() !== '') yield { line, number };
    at = to + 1;
  }
}

export function cellsOf(line: string, delimiter: string): string[] {
  if (!line.includes('"')) return line.split(delimiter);
  const cells: string[] = [];
  let cell = '';
  let quoted = false;
  for (let i = 0; i < line.length; i += 1) {
    const letter = line[i]!;
    if (quoted && letter === '"' && line[i + 1] === '"') cell += line[++i];
    else if (letter === '"') quoted = !quoted;
    else if (letter === delimiter && !quoted) {
      cells.push(cell);
      cell = '';
    } else cell += letter;
  }
  return [...cells, cell];
}

const MISSING = new Set(['', 'n/a', 'na', 'nan', 'null', '-']);
const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/** NaN for a cell that says that its value is missing; undefined for one that is no number. */
export function numberIn(cell: string, decimal: DecimalMark): number | undefined {
  const text = cell.trim();
  if (MISSING.has(text.toLowerCase())) return NaN;
  if (decimal === ',' && text.includes('.')) return undefined;
  const written = decimal === ',' ? text.replace(',', '.') : text;
  return NUMBER.test(written) ? Number(written) : undefined;
}
