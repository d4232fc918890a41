/** The ids of erased athletes, one a line, in a file next to the data. */
import { open, readFile } from 'node:fs/promises';
import path from 'node:path';
import { SetupError } from './errors.ts';
import { isId } from './routes/schemas.ts';
import type { ErasedList } from './session/erasure.ts';

const FILE = 'erased-athletes.txt';
const OWNER_ONLY = 0o600;

export function erasedListIn(dataDir: string): ErasedList {
  const file = path.join(dataDir, FILE);
  return {
    add: async (athleteId) => {
      const handle = await open(file, 'a', OWNER_ONLY);
      try {
        await handle.write(`${athleteId}\n`);
        await handle.sync();
      } finally {
        await handle.close();
      }
    },
    all: async () => {
      const text = await readFile(file, 'utf8').catch((error: NodeJS.ErrnoException) => {
        if (error.code === 'ENOENT') return '';
        throw error;
      });
      const ids = [...new Set(text.split('\n').map((line) => line.trim()))].filter((line) => line !== '');
      const wrong = ids.find((id) => !isId(id));
      if (wrong === undefined) return ids;
      throw new SetupError(`${file} holds a line that is no id. Put the file back from a copy, or remove that line.`);
    },
  };
}

/** For a server whose data does not outlive it. */
export function erasedListInMemory(): ErasedList {
  const ids = new Set<string>();
  return { add: async (id) => void ids.add(id), all: async () => [...ids] };
}
