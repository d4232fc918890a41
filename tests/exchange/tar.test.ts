/** Our archives are read by the system's own tar; the header is that of POSIX.1-1988 (IEEE Std 1003.1, pax, ustar). */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { TAR, tarOf, type ArchiveFile } from '../../server/src/exchange/tar.ts';

const made: string[] = [];
afterEach(() => made.splice(0).forEach((folder) => rmSync(folder, { recursive: true })));

const MODIFIED_S = 1_900_000_000;
const textOf = (length: number): Uint8Array => Uint8Array.from({ length }, (_, i) => 32 + ((i * 7) % 90));

function unpack(files: readonly ArchiveFile[]): { folder: string; listing: string } {
  const folder = mkdtempSync(join(tmpdir(), 'tar-'));
  made.push(folder);
  const archive = join(folder, 'a.tar');
  writeFileSync(archive, Buffer.concat(tarOf(files, MODIFIED_S)));
  const listing = execFileSync('tar', ['-tf', archive], { encoding: 'utf8' });
  execFileSync('tar', ['-xf', archive, '-C', folder], { stdio: 'pipe' });
  return { folder, listing };
}

describe('an archive', () => {
  it.each([0, 1, TAR.blockBytes - 1, TAR.blockBytes, TAR.blockBytes + 1, 70_000])(
    'gives back a file of %i bytes, and the one after it',
    (bytes) => {
      const files = [
        { path: 'x/a.tsv', parts: [textOf(bytes)] },
        { path: 'x/b.tsv', parts: [textOf(3), textOf(600)] },
      ];
      const { folder, listing } = unpack(files);
      expect(listing).toBe('x/a.tsv\nx/b.tsv\n');
      for (const { path, parts } of files)
        expect(readFileSync(join(folder, path)).equals(Buffer.concat(parts))).toBe(true);
      expect(statSync(join(folder, 'x/a.tsv')).mtimeMs).toBe(MODIFIED_S * 1000);
    },
  );

  it('is blocks of 512 bytes, with the magic and version of ustar', () => {
    const bytes = Buffer.concat(tarOf([{ path: 'a', parts: [textOf(5)] }], MODIFIED_S));
    expect(bytes.length % TAR.blockBytes).toBe(0);
    expect(bytes.subarray(257, 265).toString('latin1')).toBe('ustar\x0000');
    expect(bytes.subarray(-2 * TAR.blockBytes).every((byte) => byte === 0)).toBe(true);
  });

  it('has no two pieces in one buffer, so that they can go to another thread', () => {
    const pieces = tarOf([{ path: 'a', parts: [textOf(5), textOf(6)] }], MODIFIED_S);
    expect(new Set(pieces.map((piece) => piece.buffer)).size).toBe(pieces.length);
    for (const piece of pieces) expect(piece.byteLength).toBe(piece.buffer.byteLength);
  });

  const nameOf = (length: number): string => 'n'.repeat(length);
  it.each([
    ['a name at the limit', nameOf(TAR.nameBytesMax)],
    ['a prefix and a name at the limit', `${nameOf(TAR.prefixBytesMax)}/${nameOf(TAR.nameBytesMax)}`],
    ['several folders', `${nameOf(60)}/${nameOf(60)}/${nameOf(60)}`],
  ])('holds a path with %s', (_, path) => {
    const { folder, listing } = unpack([{ path, parts: [textOf(4)] }]);
    expect(listing).toBe(`${path}\n`);
    expect(readFileSync(join(folder, path))).toHaveLength(4);
  });

  it.each([
    ['a name past the limit', nameOf(TAR.nameBytesMax + 1)],
    ['a prefix past the limit', `${nameOf(TAR.prefixBytesMax + 1)}/${nameOf(TAR.nameBytesMax)}`],
    ['a slash at the start', '/etc/a'],
    ['a way upwards', 'a/../../b'],
    ['a letter outside ASCII', 'é'],
    ['nothing', ''],
  ])('refuses a path with %s', (_, path) => {
    expect(() => tarOf([{ path, parts: [] }], MODIFIED_S)).toThrow(RangeError);
  });

  it('refuses a file of more than 8 GiB, which its header cannot state', () => {
    const part = { byteLength: TAR.fileBytesMax + 1 } as Uint8Array;
    expect(() => tarOf([{ path: 'a', parts: [part] }], MODIFIED_S)).toThrow(/8 GiB/);
  });
});
