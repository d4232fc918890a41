/** A disk of its own that can be filled: a small tmpfs, which only root may mount. */
import { execFile } from 'node:child_process';
import { open, rm, type FileHandle } from 'node:fs/promises';
import path from 'node:path';
import { promisify } from 'node:util';
import { makeTempDir } from '../support/temp-dir.ts';

const run = promisify(execFile);
/** Room for an empty cluster (40 MB), its log and some minutes of samples. */
const DISK_MB = 192;
const CHUNKS_BYTES = [1 << 20, 1 << 12, 1];

export interface SmallDisk {
  folder: string;
  /** Takes every byte that is left. */
  fill(): Promise<void>;
  /** Gives them back. */
  free(): Promise<void>;
  remove(): Promise<void>;
}

/** Null where mounting is not allowed. */
export async function mountSmallDisk(): Promise<SmallDisk | null> {
  const dir = await makeTempDir();
  try {
    await run('mount', ['-t', 'tmpfs', '-o', `size=${DISK_MB}m,mode=0711`, 'tmpfs', dir.folder]);
  } catch {
    await dir.remove();
    return null;
  }
  const filler = path.join(dir.folder, 'filler');
  return {
    folder: dir.folder,
    fill: async () => {
      const file = await open(filler, 'a');
      for (const bytes of CHUNKS_BYTES) await writeUntilFull(file, Buffer.alloc(bytes));
      await file.close();
    },
    free: () => rm(filler),
    remove: async () => {
      await run('umount', [dir.folder]);
      await dir.remove();
    },
  };
}

async function writeUntilFull(file: FileHandle, chunk: Buffer): Promise<void> {
  for (;;) {
    try {
      await file.write(chunk);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'ENOSPC') return;
      throw error;
    }
  }
}
