/** `npm run backup` and `npm run restore` as a person runs them, beside a running server and without one. */
import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { readFile, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { AthleteSummary } from '../../shared/src/index.ts';
import { firstKeeper, keeperAgain } from '../support/server-keeper.ts';
import { startServerProcess } from '../support/server-process.ts';
import type { ServerProcess } from '../support/server-process.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import { AWKWARD_NAME, allRows, fillStore, using } from './backup-fixture.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

let dir: Awaited<ReturnType<typeof makeTempDir>>;
const servers: ServerProcess[] = [];
beforeAll(async () => {
  dir = await makeTempDir();
});
afterAll(async () => {
  for (const server of servers) await server.kill('SIGTERM');
  await dir.remove();
}, 90_000);

const at = (name: string): string => path.join(dir.folder, name);

async function run(
  command: 'backup' | 'restore',
  settings: Record<string, string>,
  ...args: string[]
): Promise<{ code: number; out: string; err: string }> {
  const script = `server/src/${command}-command.ts`;
  const options = { cwd: ROOT, env: { PATH: process.env['PATH'], ...settings } };
  return promisify(execFile)(process.execPath, ['--import', 'tsx', script, ...args], options).then(
    ({ stdout, stderr }) => ({ code: 0, out: stdout, err: stderr }),
    (error: { code: number; stdout: string; stderr: string }) => ({
      code: error.code,
      out: error.stdout,
      err: error.stderr,
    }),
  );
}

async function start(dataDir: string): Promise<{ server: ServerProcess; url: string }> {
  const server = startServerProcess(dataDir, 0);
  servers.push(server);
  return { server, url: await server.url() };
}

const roster = async (url: string): Promise<string[]> =>
  (await (await keeperAgain(url)).call<AthleteSummary[]>('GET', '/api/athletes')).map(({ name }) => name);

describe('the commands', () => {
  let running: { server: ServerProcess; url: string };
  beforeAll(async () => {
    running = await start(at('data'));
    const keeper = await firstKeeper(running.url, at('data'));
    await keeper.call('POST', '/api/athletes', { name: AWKWARD_NAME });
  }, 60_000);

  test('are scripts of package.json', async () => {
    const { scripts } = JSON.parse(await readFile(path.join(ROOT, 'package.json'), 'utf8'));
    expect(scripts).toMatchObject({
      backup: 'node --import tsx server/src/backup-command.ts',
      restore: 'node --import tsx server/src/restore-command.ts',
    });
  });

  test('back up beside the running server, which goes on', async () => {
    const done = await run('backup', { DATA_DIR: at('data') }, '--out', at('one'));
    expect(done).toMatchObject({ code: 0, err: '' });
    expect(done.out).toMatch(/\d+ rows in 21 tables .* It holds everything/);
    expect((await fetch(`${running.url}/healthz`)).status).toBe(200);
    expect(running.server.output()).not.toContain('ended unexpectedly');
  });

  test('do not restore beside the running server', async () => {
    const refused = await run('restore', { DATA_DIR: at('data') }, at('one'));
    expect(refused.code).toBe(1);
    expect(refused.err).toMatch(/Another Ambipede server \(process \d+\) already uses the data folder .*Stop that one/);
    expect(await roster(running.url)).toEqual([AWKWARD_NAME]);
  });

  test('restore into a new folder, where a server then has everything, and not a second time', async () => {
    expect(await run('restore', { DATA_DIR: at('new') }, at('one'))).toMatchObject({ code: 0, err: '' });
    expect(existsSync(at('new/postgres/cluster/postmaster.pid'))).toBe(false);
    const again = await run('restore', { DATA_DIR: at('new') }, at('one'));
    expect(again.code).toBe(1);
    expect(again.err).toMatch(/There is data in the table \w+ in the data folder/);
    const restored = await start(at('new'));
    expect(await roster(restored.url)).toEqual([AWKWARD_NAME]);
  });

  test('back up without a server, and leave no PostgreSQL running', async () => {
    expect(await running.server.kill('SIGTERM')).toBe(0);
    expect((await run('backup', { DATA_DIR: at('data') }, '--out', at('two'))).code).toBe(0);
    expect(existsSync(at('data/postgres/cluster/postmaster.pid'))).toBe(false);
  });

  test('touch nothing when the settings or the file are wrong', async () => {
    const nowhere = await run('backup', { DATA_DIR: at('typo') }, '--out', at('three'));
    expect(nowhere).toMatchObject({ code: 1, out: '' });
    expect(nowhere.err).toMatch(/There is no database in the data folder .*typo/);
    await writeFile(at('torn'), (await readFile(at('one'))).subarray(0, 300));
    const torn = await run('restore', { DATA_DIR: at('typo') }, at('torn'));
    expect(torn.code).toBe(1);
    expect(torn.err).toMatch(/torn ends too early/);
    expect(existsSync(at('typo'))).toBe(false);
    expect(existsSync(at('three'))).toBe(false);
  });

  test('say how they are used', async () => {
    for (const args of [[], ['--out'], ['--elsewhere', 'x'], ['x']]) {
      const told = await run('backup', { DATA_DIR: at('data') }, ...args);
      expect([told.code, told.err]).toEqual([2, expect.stringContaining('Usage: npm run backup -- --out FILE')]);
    }
    expect((await run('restore', {})).err).toContain('Usage: npm run restore -- FILE');
    expect((await run('restore', {}, 'one', 'two')).code).toBe(2);
  });

  test('work on a PostgreSQL of DATABASE_URL', async () => {
    const postgres = await startTestPostgres();
    try {
      const [from, to] = [await postgres.newUrl(), await postgres.newUrl()];
      await using(from, fillStore);
      expect((await run('backup', { DATABASE_URL: from }, '--out', at('four'))).code).toBe(0);
      const done = await run('restore', { DATABASE_URL: to }, at('four'));
      expect(done).toMatchObject({ code: 0, out: expect.stringContaining('are in the database of DATABASE_URL') });
      expect(await using(to, allRows)).toEqual(await using(from, allRows));
    } finally {
      await postgres.stop();
    }
  });
});
