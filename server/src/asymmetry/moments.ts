/** Mean and standard deviation. */

export function meanOf(values: readonly number[]): number {
  let sum = 0;
  for (const v of values) sum += v;
  return sum / values.length;
}

/** Sample standard deviation (n - 1). */
export function sdOf(values: readonly number[]): number {
  const mean = meanOf(values);
  let sum = 0;
  for (const v of values) sum += (v - mean) ** 2;
  return Math.sqrt(sum / (values.length - 1));
}
