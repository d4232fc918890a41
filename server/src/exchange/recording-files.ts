/** The files of a recording, from a folder on disk or from an archive in memory: the reader sees no difference. */
import { readdir, readFile } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import type { ArchiveEntry } from './tar-reader.ts';
import { RecordingError } from './recording-error.ts';

export interface RecordingFiles {
  /** For messages: what holds the files. */
  where: string;
  /** Where the recording lies; its dataset may reach above. */
  root: string;
  /** @throws RecordingError when there is nothing to list. */
  list(): Promise<string[]>;
  /** Null when there is no such file. @throws RecordingError when it cannot be read. */
  text(path: string): Promise<string | null>;
}

export function filesOfFolder(folder: string): RecordingFiles {
  return {
    where: folder,
    root: resolve(folder),
    list: async () => {
      const entries = await readdir(folder, { withFileTypes: true, recursive: true }).catch((cause: unknown) => {
        throw new RecordingError(`Cannot read the folder ${folder}: ${reasonOf(cause)}`);
      });
      return entries.filter((entry) => entry.isFile()).map((entry) => join(entry.parentPath, entry.name));
    },
    text: (path) =>
      readFile(path, 'utf8').catch((cause: unknown) => {
        if ((cause as { code?: string }).code === 'ENOENT') return null;
        throw new RecordingError(`${basename(path)} cannot be read: ${reasonOf(cause)}`);
      }),
  };
}

/** Some systems put a file of their own beside each, under its name with this before it. */
const SHADOW = '._';

/** The folder that all files share is the recording: its dataset cannot reach beyond the archive. */
export function filesOfArchive(entries: readonly ArchiveEntry[]): RecordingFiles {
  const wanted = entries.filter(({ path }) => !basename(path).startsWith(SHADOW));
  const contents = new Map(wanted.map(({ path, bytes }) => [`/${path}`, bytes]));
  const decoder = new TextDecoder();
  return {
    where: 'the archive',
    root: sharedFolder([...contents.keys()]),
    list: async () => [...contents.keys()],
    text: async (path) => {
      const bytes = contents.get(path.replaceAll('\\', '/'));
      return bytes ? decoder.decode(bytes) : null;
    },
  };
}

function sharedFolder(paths: readonly string[]): string {
  const folders = paths.map((path) => path.split('/').slice(1, -1));
  const [first = []] = folders;
  const differs = first.findIndex((name, i) => folders.some((folder) => folder[i] !== name));
  return `/${(differs === -1 ? first : first.slice(0, differs)).join('/')}`;
}

function reasonOf(cause: unknown): string {
  return cause instanceof Error ? cause.message : String(cause);
}
