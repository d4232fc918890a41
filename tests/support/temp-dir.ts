import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';

/** A folder of the test's own. Open to pass through: as root, PostgreSQL runs as somebody else. */
export async function makeTempDir(): Promise<{ folder: string; remove(): Promise<void> }> {
  const folder = await mkdtemp(path.join(tmpdir(), 'ambipede-test-'));
  await chmod(folder, 0o711);
  return { folder, remove: () => rm(folder, { recursive: true, force: true, maxRetries: 3 }) };
}
