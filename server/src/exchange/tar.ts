/** Writes an archive in the ustar format (POSIX.1-1988; IEEE Std 1003.1, pax, "ustar Interchange Format"). Files only. */

export interface ArchiveFile {
  /** Relative, with `/` between folders, ASCII. */
  path: string;
  /** What the file holds, in order. */
  parts: readonly Uint8Array[];
}

export const TAR = {
  blockBytes: 512,
  nameBytesMax: 100,
  prefixBytesMax: 155,
  /** Eleven octal digits. */
  fileBytesMax: 8 ** 11 - 1,
} as const;

/** Two blocks of zeros end an archive. */
const END_BLOCKS = 2;
const MODE = 0o644;

/**
 * The archive in pieces, each with a buffer of its own: they can be handed to another thread.
 * @param modifiedS of every file, seconds since 1970 UTC
 * @throws RangeError for a path or a file that the format cannot hold
 */
export function tarOf(files: readonly ArchiveFile[], modifiedS: number): Uint8Array[] {
  const pieces = files.flatMap((file) => tarEntry(file, modifiedS));
  return [...pieces, tarEnd()];
}

/** One file of an archive that is made while it is sent; `tarEnd` closes it. */
export function tarEntry({ path, parts }: ArchiveFile, modifiedS: number): Uint8Array[] {
  const bytes = parts.reduce((sum, part) => sum + part.byteLength, 0);
  const padding = new Uint8Array((TAR.blockBytes - (bytes % TAR.blockBytes)) % TAR.blockBytes);
  return [headerOf(path, bytes, modifiedS), ...parts, padding].filter((piece) => piece.byteLength > 0);
}

export function tarEnd(): Uint8Array {
  return new Uint8Array(END_BLOCKS * TAR.blockBytes);
}

function headerOf(path: string, bytes: number, modifiedS: number): Uint8Array {
  if (bytes > TAR.fileBytesMax) throw new RangeError(`${path} has ${bytes} bytes: a tar file holds 8 GiB at most.`);
  const [prefix, name] = splitPath(path);
  const block = new Uint8Array(TAR.blockBytes);
  let at = 0;
  const put = (text: string, width: number): void => {
    for (let i = 0; i < text.length; i += 1) block[at + i] = text.charCodeAt(i);
    at += width;
  };
  const octal = (value: number, width: number): void => put(value.toString(8).padStart(width - 1, '0'), width);
  put(name, TAR.nameBytesMax);
  octal(MODE, 8);
  octal(0, 8);
  octal(0, 8);
  octal(bytes, 12);
  octal(Math.max(0, Math.floor(modifiedS)), 12);
  const checksumAt = at;
  // The sum is made with blanks where it will stand.
  put(' '.repeat(8), 8);
  put('0', 1);
  put('', 100);
  put('ustar\0', 6);
  put('00', 2);
  put('', 32);
  put('', 32);
  octal(0, 8);
  octal(0, 8);
  put(prefix, TAR.prefixBytesMax);
  const sum = block.reduce((total, byte) => total + byte, 0);
  at = checksumAt;
  put(`${sum.toString(8).padStart(6, '0')}\0 `, 8);
  return block;
}

/** A path of more than 100 bytes is cut at a slash: what is before it goes into the prefix. */
function splitPath(path: string): [prefix: string, name: string] {
  if (!/^[\x21-\x7e]+$/.test(path) || path.startsWith('/') || path.split('/').includes('..'))
    throw new RangeError(`"${path}" is not a relative path of printable ASCII characters.`);
  if (path.length <= TAR.nameBytesMax) return ['', path];
  const cut = path.indexOf('/', path.length - TAR.nameBytesMax - 1);
  if (cut < 1 || cut > TAR.prefixBytesMax || cut === path.length - 1)
    throw new RangeError(`"${path}" is too long for a tar archive.`);
  return [path.slice(0, cut), path.slice(cut + 1)];
}
