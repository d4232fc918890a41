/**
 * Reads an archive in the ustar format (IEEE Std 1003.1, pax, "ustar Interchange Format") with the long names of pax and GNU.
 * It comes from anywhere: whatever is no plain file inside the archive is refused, and nothing is written to disk.
 */
import { RecordingError } from './recording-error.ts';
import { checkedPath, paxRecords } from './tar-names.ts';
import { TAR } from './tar.ts';

export interface ArchiveEntry {
  /** Relative, with `/` between folders. */
  path: string;
  /** A view into the archive. */
  bytes: Uint8Array;
}

/** Far above what the dataset of one recording holds. */
export const ENTRIES_MAX = 2000;

const TYPE = { file: ['0', '\0', '7'], folder: '5', pax: 'x', paxForAll: 'g', longName: 'L' } as const;
const REFUSED: Record<string, string> = {
  '1': 'a hard link',
  '2': 'a symbolic link',
  '3': 'a device',
  '4': 'a device',
  '6': 'a pipe',
  K: 'a link',
  S: 'a sparse file',
};
/** The first two bytes of gzip (RFC 1952). */
const GZIP = [0x1f, 0x8b] as const;

const latin1 = new TextDecoder('latin1');
const utf8 = new TextDecoder();

/** @throws RecordingError for anything but plain files and folders, for unsafe names, and for a file that is cut short. */
export function readTar(archive: Uint8Array): ArchiveEntry[] {
  if (archive[0] === GZIP[0] && archive[1] === GZIP[1])
    throw new RecordingError('The archive is compressed with gzip. Unpack it (gunzip), then send the tar file.');
  const entries = new Map<string, ArchiveEntry>();
  let longName: string | null = null;
  let headers = 0;
  let at = 0;
  for (;;) {
    const header = archive.subarray(at, at + TAR.blockBytes);
    if (header.byteLength < TAR.blockBytes) throw cutShort();
    if (header.every((byte) => byte === 0)) break;
    headers += 1;
    if (headers > ENTRIES_MAX)
      throw new RecordingError(
        `The archive holds more than ${ENTRIES_MAX} entries. Pack the folder of one recording only.`,
      );
    checkHeader(header);
    const bytes = numberAt(header, 124, 12, 'size');
    const content = archive.subarray(at + TAR.blockBytes, at + TAR.blockBytes + bytes);
    if (content.byteLength < bytes) throw cutShort();
    at += TAR.blockBytes * (1 + Math.ceil(bytes / TAR.blockBytes));

    const type = latin1.decode(header.subarray(156, 157));
    if (type === TYPE.longName) longName = untilZero(utf8.decode(content));
    else if (type === TYPE.pax) longName = paxRecords(content).get('path') ?? longName;
    else if (type !== TYPE.paxForAll) {
      const path = checkedPath(longName ?? nameIn(header));
      longName = null;
      if (type === TYPE.folder) continue;
      if (!(TYPE.file as readonly string[]).includes(type))
        throw new RecordingError(
          `"${path}" is ${REFUSED[type] ?? 'an entry of an unknown kind'}: an archive of a recording holds files only. Pack it again without.`,
        );
      if (entries.has(path)) throw new RecordingError(`The archive holds "${path}" twice: keep one.`);
      entries.set(path, { path, bytes: content });
    }
  }
  return [...entries.values()];
}

function cutShort(): RecordingError {
  return new RecordingError('The archive is cut short: it has no end. Copy or download it again.');
}

function checkHeader(header: Uint8Array): void {
  const stated = numberAt(header, 148, 8, 'checksum');
  // The sum is made with blanks where it stands.
  const sum = header.reduce((total, byte, i) => total + (i >= 148 && i < 156 ? 0x20 : byte), 0);
  if (stated !== sum || latin1.decode(header.subarray(257, 262)) !== 'ustar')
    throw new RecordingError(
      'This is no tar archive, or it is damaged. Pack the folder of the recording as tar (ustar).',
    );
}

function nameIn(header: Uint8Array): string {
  const name = untilZero(utf8.decode(header.subarray(0, TAR.nameBytesMax)));
  // GNU keeps other things where ustar has the prefix, and says so by a blank after the magic.
  if (header[262] !== 0) return name;
  const prefix = untilZero(utf8.decode(header.subarray(345, 345 + TAR.prefixBytesMax)));
  return prefix === '' ? name : `${prefix}/${name}`;
}

function untilZero(text: string): string {
  const end = text.indexOf('\0');
  return end === -1 ? text : text.slice(0, end);
}

/** Octal digits with blanks or zeros around them. */
function numberAt(header: Uint8Array, at: number, width: number, what: string): number {
  const text = latin1.decode(header.subarray(at, at + width)).replace(/[\0 ]+/g, '');
  if (!/^[0-7]+$/.test(text))
    throw new RecordingError(`This is no tar archive, or it is damaged: the ${what} of an entry is not a number.`);
  return Number.parseInt(text, 8);
}
