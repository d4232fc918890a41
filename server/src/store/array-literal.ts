/** A PostgreSQL array as text (manual, 8.15.2), to be cast to its type in the statement. */
export function arrayLiteral(values: readonly (string | number | Uint8Array)[]): string {
  return `{${values.map(element).join(',')}}`;
}

function element(value: string | number | Uint8Array): string {
  if (typeof value === 'number') return String(value);
  const text =
    typeof value === 'string'
      ? value
      : `\\x${Buffer.from(value.buffer, value.byteOffset, value.byteLength).toString('hex')}`;
  return `"${text.replace(/[\\"]/g, '\\$&')}"`;
}
