/** SPEC.md, the layouts and the error catalogue say the same. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import * as protocol from '@ambipede/firmware-protocol';
import * as limits from '../../../server/src/ingest/limits.ts';
import {
  LAYOUTS,
  NUMBER_BYTES,
  PROTOCOL_ERRORS,
  HEADER_BYTES,
  type Field,
  type MessageType,
} from '@ambipede/firmware-protocol';

const spec = readFileSync(new URL('../../../firmware-protocol/SPEC.md', import.meta.url), 'utf8');
const lines = spec.split('\n');

/** Body rows of the first table after the line that begins with `heading`, as trimmed cells. */
function tableAfter(heading: string): string[][] {
  const at = lines.findIndex((line) => line.startsWith(heading));
  expect(at, `heading "${heading}" in SPEC.md`).toBeGreaterThanOrEqual(0);
  const start = lines.findIndex((line, i) => i > at && line.startsWith('|'));
  const end = lines.findIndex((line, i) => i > start && !line.startsWith('|'));
  const rows = lines.slice(start, end).map((line) =>
    line
      .split('|')
      .slice(1, -1)
      .map((cell) => cell.trim()),
  );
  return rows.slice(2);
}

function rangeText({ min, max, unknown }: Field): string {
  return unknown === null ? `${min}..${max}` : `${min}..${max}, ${unknown} = not known`;
}

describe('the frames of SPEC.md', () => {
  it.each(Object.entries(LAYOUTS))('%s has the same number, direction and fields as the layout', (type, layout) => {
    const direction = layout.from === 'device' ? 'device to server' : 'server to device';
    const heading = lines.find((line) => /^### 4\.\d/.test(line) && line.includes(` ${type as MessageType} (`));
    expect(heading).toContain(`${type} (type ${layout.code}, ${direction})`);
    let offset = HEADER_BYTES;
    const expected = layout.fields.map((field) => {
      const row = [String(offset), field.name, field.type, field.unit, rangeText(field)];
      offset += NUMBER_BYTES[field.type];
      return row;
    });
    expect(tableAfter(heading ?? '').map((row) => row.slice(0, 5))).toEqual(expected);
  });

  it('lists no frame that the code does not have', () => {
    expect(lines.filter((line) => /^### 4\.\d/.test(line))).toHaveLength(Object.keys(LAYOUTS).length);
  });
});

describe('the error catalogue', () => {
  it('is the same in SPEC.md and in the code', () => {
    const expected = Object.entries(PROTOCOL_ERRORS).map(([name, { code, connection }]) => [
      String(code),
      name,
      connection,
    ]);
    expect(tableAfter('## 5. Errors').map((row) => row.slice(0, 3))).toEqual(expected);
  });

  it('gives every code once and keeps close codes within the private range of RFC 6455', () => {
    const codes = Object.values(PROTOCOL_ERRORS).map(({ code }) => code);
    expect(new Set(codes).size).toBe(codes.length);
    for (const code of codes) expect(protocol.CLOSE_CODE_BASE + code).toBeLessThanOrEqual(4999);
  });

  it('has names that fit into a close reason', () => {
    for (const name of Object.keys(PROTOCOL_ERRORS)) expect(Buffer.byteLength(name)).toBeLessThanOrEqual(123);
  });
});

describe('the limits of SPEC.md', () => {
  const inCode: Record<string, unknown> = { ...protocol, ...limits };

  it('have the values of the code', () => {
    const rows = tableAfter('## 6. Limits').map(([name = '', value]) => [name.replaceAll('`', ''), Number(value)]);
    expect(rows.length).toBeGreaterThan(10);
    for (const [name, value] of rows) expect([name, inCode[String(name)]]).toEqual([name, value]);
  });

  it('include every limit that the text names', () => {
    const named = new Set([...spec.matchAll(/`([A-Z][A-Z_]+)`/g)].map(([, name]) => name));
    const listed = new Set(tableAfter('## 6. Limits').map(([name = '']) => name.replaceAll('`', '')));
    expect([...named].filter((name) => !listed.has(name as string))).toEqual([]);
  });
});
