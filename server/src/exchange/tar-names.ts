/** Names in an archive: long ones, and those that must not be taken. */
import { RecordingError } from './recording-error.ts';

/** No dataset names a file at greater length. */
export const PATH_BYTES_MAX = 1000;

const utf8 = new TextDecoder();

/** @throws RecordingError for a name that would lead out of the archive, or that no recording needs. */
export function checkedPath(name: string): string {
  const path = name.replace(/^(\.\/)+/, '').replace(/\/+$/, '');
  if (new TextEncoder().encode(name).byteLength > PATH_BYTES_MAX)
    throw new RecordingError(
      `A name in the archive is longer than ${PATH_BYTES_MAX} bytes. Pack the folder of one recording only.`,
    );
  // The folder that was packed has no name of its own.
  if (path === '' || path === '.') return '.';
  const segments = path.split('/');
  const isUnsafe =
    path.startsWith('/') ||
    /^[A-Za-z]:|\\/.test(path) ||
    /\p{Cc}/u.test(path) ||
    segments.some((segment) => segment === '..' || segment === '');
  if (isUnsafe)
    throw new RecordingError(
      `The archive holds the name ${JSON.stringify(name.slice(0, 100))}, which leads out of it or is not a plain relative name. Pack the folder of the recording again, from the folder above it.`,
    );
  return path;
}

/** Records "length key=value\n" of an extended header (IEEE Std 1003.1, pax); the length counts the whole record in bytes. */
export function paxRecords(content: Uint8Array): Map<string, string> {
  const records = new Map<string, string>();
  let at = 0;
  while (at < content.byteLength && content[at] !== 0) {
    const blank = content.indexOf(0x20, at);
    const length = Number(utf8.decode(content.subarray(at, blank)));
    const record = utf8.decode(content.subarray(blank + 1, at + length - 1));
    const equals = record.indexOf('=');
    if (blank === -1 || !Number.isInteger(length) || length <= blank - at + 1 || equals === -1)
      throw new RecordingError('The archive is damaged: an extended header cannot be read. Pack it again as ustar.');
    records.set(record.slice(0, equals), record.slice(equals + 1));
    at += length;
  }
  return records;
}
