/** What a chosen file is, from its first bytes; and its text. Nothing of it is kept but what is returned. */
import { IMPORT_PREVIEW_CHARACTERS_MAX } from '@ambipede/shared';

export type FileKind = 'table' | 'archive' | 'packed';

/** IEEE Std 1003.1, pax, "ustar Interchange Format": the magic stands at this byte of the header. */
const TAR_MAGIC = { at: 257, text: 'ustar' } as const;
/** RFC 1952 (gzip), and the local file header of a zip archive (PKWARE APPNOTE, 4.3.7). */
const PACKED_STARTS = ['\x1f\x8b', 'PK\x03\x04'] as const;
/** A character of UTF-8 takes up to so many bytes. */
const CHARACTER_BYTES_MAX = 4;

export async function kindOf(file: File): Promise<FileKind> {
  const bytes = await file.slice(0, TAR_MAGIC.at + TAR_MAGIC.text.length).arrayBuffer();
  // A TextDecoder has no encoding that leaves every byte as it is: "latin1" means windows-1252 (Encoding Standard, 4.2).
  const start = String.fromCharCode(...new Uint8Array(bytes));
  if (PACKED_STARTS.some((each) => start.startsWith(each))) return 'packed';
  return start.slice(TAR_MAGIC.at) === TAR_MAGIC.text || /\.tar$/i.test(file.name) ? 'archive' : 'table';
}

/** The beginning, as the server looks at it. */
export async function headOf(file: File): Promise<string> {
  const text = await textOf(file.slice(0, IMPORT_PREVIEW_CHARACTERS_MAX * CHARACTER_BYTES_MAX));
  return text.slice(0, IMPORT_PREVIEW_CHARACTERS_MAX);
}

/** Spreadsheets write UTF-16 too, and say so by a byte order mark (Unicode Standard, 23.8). Everything else is read as UTF-8. */
export async function textOf(part: Blob): Promise<string> {
  const bytes = await part.arrayBuffer();
  const [first, second] = new Uint8Array(bytes);
  const encoding =
    first === 0xff && second === 0xfe ? 'utf-16le' : first === 0xfe && second === 0xff ? 'utf-16be' : 'utf-8';
  return new TextDecoder(encoding).decode(bytes);
}
