/** Two-way analysis of variance without replication: athletes (rows) by sessions (columns). */
import { meanOf } from './moments.ts';

export interface MeanSquares {
  /** Between the athletes, n - 1 degrees of freedom. */
  athletes: number;
  /** Within the athletes, n (k - 1). */
  within: number;
  /** Between the sessions, k - 1. */
  sessions: number;
  /** What is left, (n - 1)(k - 1). */
  error: number;
}

/**
 * @returns null with fewer than two rows or columns
 * @throws RangeError on rows of unequal length or a value that is not finite
 */
export function meanSquaresOf(table: readonly (readonly number[])[]): MeanSquares | null {
  const n = table.length;
  const k = table[0]?.length ?? 0;
  if (table.some((row) => row.length !== k)) throw new RangeError('Every athlete needs a value in every session.');
  if (table.some((row) => !row.every(Number.isFinite)))
    throw new RangeError('Leave out athletes with a missing value.');
  if (n < 2 || k < 2) return null;
  const grand = meanOf(table.flat());
  const ofRows = table.map(meanOf);
  const ofColumns = table[0]!.map((_, c) => meanOf(table.map((row) => row[c]!)));
  const squares = (means: readonly number[]): number => means.reduce((sum, mean) => sum + (mean - grand) ** 2, 0);
  let within = 0;
  let error = 0;
  table.forEach((row, r) =>
    row.forEach((value, c) => {
      within += (value - ofRows[r]!) ** 2;
      error += (value - ofRows[r]! - ofColumns[c]! + grand) ** 2;
    }),
  );
  return {
    athletes: (k * squares(ofRows)) / (n - 1),
    within: within / (n * (k - 1)),
    sessions: (n * squares(ofColumns)) / (k - 1),
    error: error / ((n - 1) * (k - 1)),
  };
}
