/** An archive that is not exactly what was written is refused, in words, and leaves the database as it was. */
import { readdir, readFile, writeFile } from 'node:fs/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { backUp } from '../../server/src/backup/back-up.ts';
import { readArchive, verifyArchive } from '../../server/src/backup/archive-reader.ts';
import { restore } from '../../server/src/backup/restore.ts';
import { seededRandom } from '../support/seeded-random.ts';
import { createRawLog } from '../../server/src/store/raw-batches.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { fillStore, makeBare, makeFolder, tableNames, using } from './backup-fixture.ts';

const FLIPS = 200;
const CUTS = 12;
/** A restore of a damaged archive takes a while before it comes to the damage: only so many of the flips. */
const RESTORED = 10;
/** The fixed fields of a gzip member (RFC 1952, 2.3): time, flags and system say nothing about the content. */
const GZIP_HEADER_BYTES = 10;

let server: TestPostgres;
let dir: Awaited<ReturnType<typeof makeFolder>>;
let source: string;
let target: string;
let whole: Buffer;
let text: string;
beforeAll(async () => {
  dir = await makeFolder();
  server = await startTestPostgres();
  source = await server.newUrl();
  target = await server.newUrl();
  await makeBare(target);
  await using(source, fillStore);
  await backUp(source, dir.file('whole'));
  whole = await readFile(dir.file('whole'));
  text = gunzipSync(whole).toString('utf8');
});
afterAll(async () => {
  await server.stop();
  await dir.remove();
});

async function lookedAt(bytes: Uint8Array): Promise<string> {
  await writeFile(dir.file('changed'), bytes);
  return verifyArchive(dir.file('changed')).then(
    () => 'taken',
    (error: Error) => error.message,
  );
}

/** Both ways in: the look before a restore, and the restore itself. */
async function refusal(bytes: Uint8Array): Promise<string> {
  const file = dir.file('changed');
  const looked = await lookedAt(bytes);
  const restored = await restore(target, file, 'the test database').then(
    () => 'taken',
    (error: Error) => error.message,
  );
  expect(await tableNames(target)).toEqual([]);
  expect(restored).not.toBe('taken');
  expect(looked).not.toBe('taken');
  expect(looked).toContain(file);
  return looked;
}

const changed = (from: string | RegExp, to: string): Uint8Array => {
  const other = text.replace(from, () => to);
  expect(other).not.toBe(text);
  return gzipSync(other);
};

describe('an archive', () => {
  test('as it was written is taken', async () => {
    await expect(verifyArchive(dir.file('whole'))).resolves.toMatchObject({ rows: { athletes: 4 } });
  });

  test('cut off anywhere is refused', async () => {
    for (let cut = 0; cut < CUTS; cut++) {
      const bytes = Math.floor((whole.length * cut) / CUTS);
      expect(await refusal(whole.subarray(0, bytes))).toMatch(/ends too early|is not a backup of Ambipede/);
    }
    expect(await refusal(whole.subarray(0, whole.length - 1))).toMatch(/ends too early/);
  });

  test('is refused only when whoever uses it has finished what was under way', async () => {
    // So short that its end is known to be missing as soon as it is opened.
    const firstLine = gzipSync(text.slice(0, text.indexOf('\n') + 1));
    await writeFile(dir.file('changed'), firstLine.subarray(0, -4));
    let finished = false;
    const onHeader = async (): Promise<void> => {
      await sleep(100);
      finished = true;
    };
    const onTable = () => Promise.reject(new Error('there is no table'));
    await expect(readArchive(dir.file('changed'), { onHeader, onTable })).rejects.toThrow();
    expect(finished).toBe(true);
  });

  test('with any bit changed is refused', async () => {
    const random = seededRandom(20);
    for (let k = 0; k < FLIPS; k++) {
      const bytes = Buffer.from(whole);
      const at = GZIP_HEADER_BYTES + Math.floor(random() * (whole.length - GZIP_HEADER_BYTES));
      bytes[at]! ^= 1 << Math.floor(random() * 8);
      if (k < RESTORED) await refusal(bytes);
      else expect(await lookedAt(bytes)).toContain('changed ');
    }
  });

  test('whose rows were changed is refused by its checksum, and the table is named', async () => {
    expect(await refusal(changed('pelvis-2\t', 'pelvis-9\t'))).toMatch(/is damaged in the table sensors/);
    expect(await refusal(changed(/worn-by-nobody.*\n/, ''))).toMatch(/is damaged in the table raw_batches/);
    expect(await refusal(changed('"rows":4,', '"rows":5,'))).toMatch(/is damaged/);
  });

  test('that lacks a table, has one twice or in another place is refused', async () => {
    const tables = [...text.matchAll(/\{"table"[^]*?\n\\\.\n.*\n/g)].map((found) => found[0]);
    expect(tables).toHaveLength(21);
    expect(await refusal(changed(tables[3]!, ''))).toMatch(/is damaged/);
    expect(await refusal(changed(tables[3]!, tables[3]! + tables[3]!))).toMatch(/is damaged/);
    expect(await refusal(changed(tables[3]! + tables[4]!, tables[4]! + tables[3]!))).toMatch(/is damaged/);
    expect(await refusal(changed(/\{"tables".*\n/, ''))).toMatch(/ends too early/);
  });

  test('that goes on after its end is refused', async () => {
    expect(await refusal(gzipSync(`${text}more\n`))).toMatch(/goes on after its end/);
    expect(await refusal(Buffer.concat([whole, gzipSync('more\n')]))).toMatch(/goes on after its end/);
  });

  test('of something else is called so', async () => {
    const foreign = [
      Buffer.from('PGDMP'),
      Buffer.from(text),
      gzipSync('just text'),
      gzipSync('{"format":"other"}\n'),
      gzipSync('null\n'),
      gzipSync(''),
    ];
    for (const bytes of foreign) expect(await refusal(bytes)).toMatch(/is not a backup of Ambipede/);
    expect(await refusal(Buffer.alloc(0))).toMatch(/ends too early/);
  });

  test('of a later format or version says which version is needed', async () => {
    expect(await refusal(changed('"formatVersion":1', '"formatVersion":2'))).toMatch(/has format 2.*reads 1/);
    // The first line is changed: that alone is refused when its end is reached; a restore says it before.
    const later = changed(/"migration":"[^"]*"/, '"migration":"9999_later"');
    await refusal(later);
    await expect(restore(target, dir.file('changed'), 'the test database')).rejects.toThrow(
      /made by a newer version of Ambipede than this one \(its tables are at 9999_later\)/,
    );
  });

  test('that is not there is said not to be there', async () => {
    await expect(verifyArchive(dir.file('nothing'))).rejects.toThrow(`There is no file ${dir.file('nothing')}.`);
    await expect(verifyArchive(dir.folder)).rejects.toThrow(/cannot be read/);
  });
});

describe('a backup or a restore that is stopped in the middle', () => {
  test('leaves no file, no table and no waiting connection', async () => {
    const big = await server.newUrl();
    await using(big, async (database) => {
      const batches = Array.from({ length: 2000 }, (_, i) => makeRawBatch({ firstSequence: i * 8 }));
      for (const k of [1, 2]) {
        await createRawLog(database).append(batches.map((batch) => ({ ...batch, deviceId: `d${k}` })));
      }
    });
    await backUp(big, dir.file('big'));
    for (const waitMs of [5, 20, 60]) {
      const signal = AbortSignal.timeout(waitMs);
      const stopped = await backUp(big, dir.file(`stopped-${waitMs}`), signal).catch((error: Error) => error.name);
      const names = await readdir(dir.folder);
      if (typeof stopped === 'string') expect(names.filter((name) => name.includes('stopped'))).toEqual([]);
      const restored = await restore(target, dir.file('big'), 'it', AbortSignal.timeout(waitMs)).catch(() => null);
      if (restored) await makeBare(target);
      expect(await tableNames(target)).toEqual([]);
    }
    expect((await readdir(dir.folder)).filter((name) => name.includes('unfinished'))).toEqual([]);
  });
});
