/** The folder of shared recordings beside the repository, or null where it is not. */
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

export function sharedRecordings(): string | null {
  const path = fileURLToPath(new URL('../../../shared/data/recordings', import.meta.url));
  return existsSync(path) ? path : null;
}
