/** `npm run account` as whoever has lost the keeper's password runs it, beside the running server; and a replay that signs in. */
import { execFile } from 'node:child_process';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { AthleteSummary, AuditEntry } from '../../shared/src/index.ts';
import { ReplayApi } from '../../server/src/replay-api.ts';
import { PASSWORD, Person } from '../support/people.ts';
import { firstKeeper } from '../support/server-keeper.ts';
import { startServerProcess, type ServerProcess } from '../support/server-process.ts';
import { makeTempDir } from '../support/temp-dir.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

let dir: Awaited<ReturnType<typeof makeTempDir>>;
let dataDir: string;
let server: ServerProcess;
let url: string;
let keeper: Person;
beforeAll(async () => {
  dir = await makeTempDir();
  dataDir = path.join(dir.folder, 'data');
  server = startServerProcess(dataDir, 0);
  url = await server.url();
  keeper = await firstKeeper(url, dataDir);
}, 60_000);
afterAll(async () => {
  await server?.kill('SIGTERM');
  await dir?.remove();
}, 60_000);

async function run(settings: Record<string, string>, ...args: string[]) {
  const options = { cwd: ROOT, env: { PATH: process.env['PATH'], ...settings } };
  return promisify(execFile)(
    process.execPath,
    ['--import', 'tsx', 'server/src/account-command.ts', ...args],
    options,
  ).then(
    ({ stdout }) => ({ code: 0, out: stdout, err: '' }),
    ({ code, stdout, stderr }: { code: number; stdout: string; stderr: string }) => ({
      code,
      out: stdout,
      err: stderr,
    }),
  );
}

describe('a replay', () => {
  test('is told to sign in, does so, and leaves no sign-in behind', async () => {
    const api = new ReplayApi(url.replace('http', 'ws'));
    await expect(api.call('GET', '/api/athletes')).rejects.toThrow('Give --login NAME');
    await expect(api.signIn({ login: 'keeper', password: 'not this one' })).rejects.toThrow('do not belong together');
    await api.signIn({ login: 'keeper', password: PASSWORD });
    expect(await api.call<AthleteSummary[]>('GET', '/api/athletes')).toEqual([]);
    expect((await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Replay' })).name).toBe('Replay');
    await api.signOut();
    await expect(api.call('GET', '/api/athletes')).rejects.toThrow('Give --login NAME');
  });
});

describe('npm run account', () => {
  test('gives a new password while the server runs: every sign-in ends, and it has to be changed', async () => {
    const { code, out } = await run({ DATA_DIR: dataDir }, 'new-password', 'Keeper');
    expect(code).toBe(0);
    const password = /password of Keeper is ((?:[a-z2-9]{5}-?){4}) and has to be changed/.exec(out)![1]!;
    expect((await keeper.ask('GET', '/api/me')).status).toBe(401);
    expect((await new Person(url).signIn('keeper')).status).toBe(401);
    const again = new Person(url);
    expect((await again.signIn('keeper', password)).body.passwordIsFirst).toBe(true);
    expect((await again.ask('GET', '/api/athletes')).status).toBe(403);
    await again.call('POST', '/api/me/password', { password, newPassword: PASSWORD });
    const audit = await again.call<AuditEntry[]>('GET', '/api/audit');
    expect(audit.map(({ action }) => action)).toContain('new password given at the machine');
    expect(server.output()).not.toContain(password);
  });

  test('names the logins that there are, and says how it is used', async () => {
    const unknown = await run({ DATA_DIR: dataDir }, 'new-password', 'nobody');
    expect([unknown.code, unknown.out]).toEqual([1, '']);
    expect(unknown.err).toContain('There is no account nobody. There are: keeper.');
    for (const args of [[], ['new-password'], ['remove', 'keeper'], ['new-password', 'keeper', 'x'], ['--all']]) {
      const told = await run({ DATA_DIR: dataDir }, ...args);
      expect([told.code, told.err]).toEqual([
        2,
        expect.stringContaining('Usage: npm run account -- new-password LOGIN'),
      ]);
    }
    const nowhere = await run({ DATA_DIR: path.join(dir.folder, 'typo') }, 'new-password', 'keeper');
    expect(nowhere.err).toMatch(/There is no database in the data folder/);
  });
});
