/** As root, under a folder that is closed to everybody else (a home of root, a private temporary folder). */
import { chmod, mkdir } from 'node:fs/promises';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { startEmbeddedPostgres } from '../../server/src/store/embedded-postgres/supervisor.ts';
import { makeTempDir } from '../support/temp-dir.ts';

const IS_ROOT = process.getuid?.() === 0;
const SILENT = { info: () => undefined, warn: () => undefined, error: () => undefined };

describe.skipIf(!IS_ROOT)('the embedded PostgreSQL of a server that runs as root', () => {
  it('starts in a data folder that lies in a closed folder', async () => {
    const { folder, remove } = await makeTempDir();
    try {
      const closed = path.join(folder, 'closed');
      await mkdir(closed);
      await chmod(closed, 0o700);
      const postgres = await startEmbeddedPostgres(path.join(closed, 'data'), SILENT);
      expect(postgres.url).toMatch(/^postgres:\/\//);
      expect(postgres.adopted).toBe(false);
      await postgres.stop();
    } finally {
      await remove();
    }
  });
});
