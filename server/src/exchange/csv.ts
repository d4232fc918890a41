/** Comma-separated values after RFC 4180: a header, CRLF, quotes where they are needed. */

/** A number that is not known is an empty cell, never 0. */
export type CsvCell = string | number | boolean | null;

/** A spreadsheet would run such a text as a formula. */
const FORMULA_START = /^[=+\-@\t\r]/;

export function csvLine(cells: readonly CsvCell[]): string {
  return `${cells.map(cellText).join(',')}\r\n`;
}

function cellText(cell: CsvCell): string {
  if (cell === null || (typeof cell === 'number' && !Number.isFinite(cell))) return '';
  if (typeof cell !== 'string') return String(cell);
  const text = FORMULA_START.test(cell) ? `'${cell}` : cell;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
