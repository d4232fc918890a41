/** Archives made by the system's own tar in its formats (POSIX ustar and pax, GNU), and what no recording may be sent as. */
import { execFileSync } from 'node:child_process';
import { linkSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { filesOfArchive } from '../../server/src/exchange/recording-files.ts';
import { ENTRIES_MAX, readTar } from '../../server/src/exchange/tar-reader.ts';
import { TAR, tarOf } from '../../server/src/exchange/tar.ts';

const made: string[] = [];
afterEach(() => made.splice(0).forEach((folder) => rmSync(folder, { recursive: true })));

function folderWith(files: Record<string, string>): string {
  const folder = mkdtempSync(join(tmpdir(), 'tar-reader-'));
  made.push(folder);
  for (const [path, text] of Object.entries(files)) {
    mkdirSync(join(folder, 'in', dirname(path)), { recursive: true });
    writeFileSync(join(folder, 'in', path), text);
  }
  return folder;
}

function packed(folder: string, format: string, ...names: string[]): Uint8Array {
  execFileSync('tar', [`--format=${format}`, '-cf', join(folder, 'a.tar'), '-C', join(folder, 'in'), ...names]);
  return readFileSync(join(folder, 'a.tar'));
}

const textsOf = (archive: Uint8Array): Record<string, string> =>
  Object.fromEntries(readTar(archive).map(({ path, bytes }) => [path, new TextDecoder().decode(bytes)]));

/** An archive of one file, with bytes of its header replaced and the checksum made anew. */
function forged(at: number, text: string): Uint8Array {
  const bytes = Buffer.concat(tarOf([{ path: 'recording/a.tsv', parts: [Buffer.from('1\t2\n')] }], 1));
  bytes.fill(0, at, at === 0 ? TAR.nameBytesMax : at + text.length);
  bytes.write(text, at, 'latin1');
  bytes.fill(0x20, 148, 156);
  const sum = bytes.subarray(0, TAR.blockBytes).reduce((total, byte) => total + byte, 0);
  bytes.write(`${sum.toString(8).padStart(6, '0')}\0 `, 148, 'latin1');
  return bytes;
}

const LONG = `${'f'.repeat(90)}/${'g'.repeat(90)}/${'n'.repeat(110)}.tsv`;

describe('an archive', () => {
  it.each(['ustar', 'pax', 'gnu'])('of the format %s gives the files that were packed', (format) => {
    const files = { 'rec/a.tsv': '1\t2\n', 'rec/sub/b.json': '{}', 'rec/empty': '', 'rec/block': 'x'.repeat(512) };
    expect(textsOf(packed(folderWith(files), format, 'rec'))).toEqual(files);
  });

  it.each(['pax', 'gnu'])('of the format %s keeps a name that ustar has no room for', (format) => {
    expect(textsOf(packed(folderWith({ [LONG]: 'x' }), format, LONG))).toEqual({ [LONG]: 'x' });
  });

  it('that was packed from within its folder has names without the dot', () => {
    expect(textsOf(packed(folderWith({ 'a.tsv': '1' }), 'gnu', '.'))).toEqual({ 'a.tsv': '1' });
  });

  it('of our own writer is read back, with a name that is cut into prefix and name', () => {
    const path = `${'f'.repeat(60)}/${'n'.repeat(90)}`;
    const archive = Buffer.concat(tarOf([{ path, parts: [Buffer.from('ab'), Buffer.from('c')] }], 1));
    expect(textsOf(archive)).toEqual({ [path]: 'abc' });
  });

  it('shows its files as a recording from the folder that they share, without the shadows of other systems', async () => {
    const entries = ['top/sub/a.tsv', 'top/sub/b.tsv', 'top/sub/._a.tsv'].map((path) => ({
      path,
      bytes: Buffer.from('x'),
    }));
    const files = filesOfArchive(entries);
    expect(files.root).toBe('/top/sub');
    expect(await files.list()).toEqual(['/top/sub/a.tsv', '/top/sub/b.tsv']);
    expect(await files.text('/top/sub/a.tsv')).toBe('x');
    expect(await files.text('/top/sub/c.tsv')).toBeNull();
  });
});

describe('refused is an archive', () => {
  it.each([
    ['a way upwards', '../evil.tsv'],
    ['a way upwards in the middle', 'a/../../evil.tsv'],
    ['an absolute name', '/etc/passwd'],
    ['a drive letter', 'C:/evil.tsv'],
    ['a backslash', 'a\\..\\evil.tsv'],
    ['a line break', 'a\nb.tsv'],
    ['an empty folder name', 'a//b.tsv'],
  ])('with %s in a name', (_, name) => {
    expect(() => readTar(forged(0, name))).toThrow(/plain relative name/);
  });

  it.each([
    ['1', /hard link/],
    ['2', /symbolic link/],
    ['3', /device/],
    ['4', /device/],
    ['6', /pipe/],
    ['S', /sparse/],
    ['Z', /unknown kind/],
  ])('with an entry of type %s', (type, message) => {
    expect(() => readTar(forged(156, type))).toThrow(message);
  });

  it('with links that the system packed', () => {
    const folder = folderWith({ 'a.tsv': '1' });
    symlinkSync('/etc/hostname', join(folder, 'in', 'soft'));
    expect(() => readTar(packed(folder, 'gnu', 'soft'))).toThrow(/"soft" is a symbolic link/);
    linkSync(join(folder, 'in', 'a.tsv'), join(folder, 'in', 'hard'));
    expect(() => readTar(packed(folder, 'pax', 'a.tsv', 'hard'))).toThrow(/"hard" is a hard link/);
  });

  it('that is cut short, wherever', () => {
    const whole = Buffer.concat(
      tarOf(
        [
          { path: 'a', parts: [Buffer.alloc(1300, 7)] },
          { path: 'b', parts: [] },
        ],
        1,
      ),
    );
    const end = whole.byteLength - 2 * TAR.blockBytes;
    for (let bytes = 0; bytes <= end; bytes += 100)
      expect(() => readTar(whole.subarray(0, bytes))).toThrow(/cut short/);
    expect(() => readTar(whole.subarray(0, end))).toThrow(/cut short/);
    expect(readTar(whole)).toHaveLength(2);
  });

  it('that is compressed, something else, or damaged', () => {
    expect(() => readTar(Uint8Array.from([0x1f, 0x8b, 8, 0]))).toThrow(/gunzip/);
    expect(() => readTar(Buffer.alloc(2048, 'time;ax;ay\n'))).toThrow(/no tar archive/);
    const damaged = forged(0, 'a.tsv');
    damaged[3]! ^= 1;
    expect(() => readTar(damaged)).toThrow(/damaged/);
    expect(() => readTar(forged(124, 'zzzzzzzzzzz'))).toThrow(/damaged/);
  });

  it('that holds a name twice, or one entry more than the limit', () => {
    const twice = tarOf(
      [
        { path: 'a', parts: [] },
        { path: 'a', parts: [] },
      ],
      1,
    );
    expect(() => readTar(Buffer.concat(twice))).toThrow(/twice/);
    const many = (count: number) =>
      Buffer.concat(
        tarOf(
          Array.from({ length: count }, (_, i) => ({ path: `f${i}`, parts: [] })),
          1,
        ),
      );
    expect(readTar(many(ENTRIES_MAX))).toHaveLength(ENTRIES_MAX);
    expect(() => readTar(many(ENTRIES_MAX + 1))).toThrow(/more than 2000/);
  });
});
