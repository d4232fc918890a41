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
  fixedBytes,
  type Field,
  type MessageType,
} from '@ambipede/firmware-protocol';
import { outsideOf } from './field-edges.ts';
import { malformedVectors, validVectors } from './vectors.ts';

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

function rangeText({ min, max, also }: Field): string {
  return also ? `${min}..${max}, ${also.value} = ${also.means}` : `${min}..${max}`;
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

  it('are in the overview with number and direction', () => {
    const rows = tableAfter('## 4. Frames').map((row) => row.slice(0, 3));
    expect(rows).toEqual(Object.entries(LAYOUTS).map(([type, { code, from }]) => [String(code), type, from]));
  });
});

describe('the vectors', () => {
  const frameOf = new Map(Object.values(LAYOUTS).map((layout) => [layout.code, layout]));

  /** Values of all fields of the frames, read by the offsets of the layout alone; frames too short for a field have none. */
  function valuesOf(hexes: string[], type: MessageType, field: string): Set<number> {
    const found = new Set<number>();
    for (const hex of hexes) {
      const frame = Buffer.from(hex, 'hex');
      if (frame.length < HEADER_BYTES || frameOf.get(frame[3] as number) !== LAYOUTS[type]) continue;
      let offset = HEADER_BYTES;
      for (const { name, type: number } of LAYOUTS[type].fields) {
        if (name === field && frame.length >= offset + NUMBER_BYTES[number]) {
          if (number === 'i16') found.add(frame.readInt16LE(offset));
          else if (number === 'u64') found.add(Number(frame.readBigUInt64LE(offset)));
          else found.add(frame.readUIntLE(offset, NUMBER_BYTES[number]));
        }
        offset += NUMBER_BYTES[number];
      }
    }
    return found;
  }
  const outOfRange = malformedVectors.filter(({ error }) => error === 'out-of-range').map(({ hex }) => hex);
  const good = validVectors.map(({ hex }) => hex);

  it.each(Object.keys(LAYOUTS) as MessageType[])('have every field of %s at both ends of its range', (type) => {
    for (const { name, min, max, also } of LAYOUTS[type].fields) {
      // Of the ids and sequences of samples a frame at the end has another rule to keep.
      if (type === 'samples' && ['firstSequence', 'oldestSequence'].includes(name)) continue;
      const values = valuesOf(good, type, name);
      for (const end of [min, max, ...(also ? [also.value] : [])]) {
        expect([type, name, end, values.has(end)]).toEqual([type, name, end, true]);
      }
    }
  });

  it.each(Object.keys(LAYOUTS) as MessageType[])(
    'have every field of %s refused one step outside its range',
    (type) => {
      for (const { field, value } of outsideOf(type)) {
        expect([type, field, value, valuesOf(outOfRange, type, field).has(value)]).toEqual([type, field, value, true]);
      }
    },
  );

  it.each(Object.entries(LAYOUTS))('have %s cut in its fixed part and with a byte too many', (_type, layout) => {
    const refused = (error: string): number[] =>
      malformedVectors
        .filter((vector) => vector.error === error && Number.parseInt(vector.hex.slice(6, 8), 16) === layout.code)
        .map(({ hex }) => hex.length / 2);
    expect(refused('too-short')).toEqual(expect.arrayContaining([HEADER_BYTES, fixedBytes(layout) - 1]));
    expect(refused('wrong-length').some((length) => length > fixedBytes(layout))).toBe(true);
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

describe('what a device does after a close', () => {
  it('is told for errors of the catalogue that close', () => {
    const rows = tableAfter('### 5.1');
    expect(rows.length).toBeGreaterThan(5);
    const closing = Object.entries(PROTOCOL_ERRORS).filter(([, { connection }]) => connection === 'closed');
    expect(closing.map(([name]) => name)).toEqual(expect.arrayContaining(rows.map(([name]) => name)));
    expect(new Set(rows.map(([, pause]) => pause))).toEqual(new Set(['ordinary', '`REFUSED_PAUSE_MS`']));
  });

  it('keeps a device that is not enrolled away for a minute, after close code 4041', () => {
    expect(tableAfter('### 5.1').find(([name]) => name === 'not-enrolled')?.[1]).toBe('`REFUSED_PAUSE_MS`');
    expect(protocol.REFUSED_PAUSE_MS).toBe(60_000);
    expect(protocol.closeCodeOf('not-enrolled')).toBe(4041);
  });
});

describe('the C header', () => {
  const header = readFileSync(new URL('../../../firmware-protocol/c/ambipede_protocol.h', import.meta.url), 'utf8');
  const defines = new Map(
    [...header.matchAll(/^#define AMB_([A-Z0-9_]+) (?:UINT64_C)?\(?(-?\d+)u?\)?$/gm)].map(([, name, value]) => [
      name as string,
      Number(value),
    ]),
  );
  const upper = (name: string): string => name.replaceAll('-', '_').replace(/[A-Z]/g, '_$&').toUpperCase();

  it('has every frame type and every error with its number, and no other', () => {
    const named = (prefix: string): Record<string, number> =>
      Object.fromEntries([...defines].filter(([name]) => name.startsWith(prefix) && !name.endsWith('_MAX')));
    expect(named('TYPE_')).toEqual(
      Object.fromEntries(Object.entries(LAYOUTS).map(([type, { code }]) => [`TYPE_${upper(type)}`, code])),
    );
    expect(named('ERROR_')).toEqual(
      Object.fromEntries(Object.entries(PROTOCOL_ERRORS).map(([name, { code }]) => [`ERROR_${upper(name)}`, code])),
    );
  });

  it('has the limits and values of the code', () => {
    const inCode: Record<string, unknown> = { ...protocol, ...limits };
    const others = [...defines].filter(([name]) => !/^(TYPE|ERROR)_/.test(name) || name.endsWith('_MAX'));
    expect(others.length).toBeGreaterThan(25);
    for (const [name, value] of others) expect([name, inCode[name]]).toEqual([name, value]);
  });
});
