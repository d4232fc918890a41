/** The worked session of docs/firmware against the protocol's vectors: the same bytes, and what is said of each field. */
import { describe, expect, it } from 'vitest';
import { read } from './markdown.ts';

interface Vector {
  name: string;
  hex: string;
  decoded: Record<string, unknown>;
}

const AXES = ['ax', 'ay', 'az', 'gx', 'gy', 'gz', 'mx', 'my', 'mz'];
const vectors = JSON.parse(read('firmware-protocol/vectors/valid.json')) as Vector[];

/** Frames of the document: the vector's name, and rows of bytes, field and value. */
const frames = read('docs/firmware/session.md')
  .split('<!-- vector: ')
  .slice(1)
  .map((part) => {
    const [name = '', rest = ''] = part.split(' -->');
    const lines = rest.trim().split('\n');
    const end = lines.findIndex((line) => !line.startsWith('|'));
    const rows = lines.slice(2, end < 0 ? lines.length : end).map((line) =>
      line
        .split('|')
        .slice(1, -1)
        .map((cell) => cell.trim().replaceAll('`', '')),
    );
    return { name, rows: rows.map(([bytes = '', field = '', value = '']) => ({ bytes, field, value })) };
  });

describe('the session of docs/firmware', () => {
  it('shows every type of frame', () => {
    const types = (list: readonly string[]) => [...new Set(list)].sort();
    const shown = frames.flatMap(({ rows }) => rows.filter(({ field }) => field === 'type').map(({ value }) => value));
    expect(types(shown.map((value) => value.replace(/^\d+, /, '')))).toEqual(
      types(vectors.map(({ decoded }) => String(decoded['type']))),
    );
  });

  it.each(frames)('has the bytes and the values of the vector "$name"', ({ name, rows }) => {
    const vector = vectors.find((each) => each.name === name);
    expect(rows.map(({ bytes }) => bytes.replaceAll(' ', '')).join('')).toBe(vector?.hex);
    const values: Record<string, unknown> = { ...vector?.decoded };
    (vector?.decoded['counts'] as number[][] | undefined)?.forEach((counts, i) => {
      counts.forEach((count, k) => (values[i === 0 ? AXES[k]! : `${AXES[k]} of the next`] = count));
    });
    // The type's number and name are checked above; header, lengths and check are the encoding's own.
    const own = ['type', 'counts', 'token'];
    const told = Object.fromEntries(rows.map(({ field, value }) => [field, value]));
    for (const [field, value] of Object.entries(values)) {
      if (!own.includes(field)) expect([field, told[field]]).toEqual([field, String(value)]);
    }
  });
});
