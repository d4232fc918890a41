import { existsSync } from 'node:fs';
import { cp, rm, readlink, stat, unlink } from 'node:fs/promises';
import { createRequire } from 'node:module';
import path from 'node:path';
import postgres from 'postgres';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { SetupError } from '../../server/src/errors.ts';
import { migrateDatabase } from '../../server/src/store/database.ts';
import { makeMissingSymlinks, reachableBinaries } from '../../server/src/store/embedded-postgres/binaries.ts';
import { isAlive } from '../../server/src/store/embedded-postgres/postmaster-file.ts';
import { startEmbeddedPostgres } from '../../server/src/store/embedded-postgres/supervisor.ts';
import { openStore } from '../../server/src/store/open-store.ts';
import { makeTempDir } from '../support/temp-dir.ts';

const log = { info: () => undefined, error: () => undefined };
const noLoss = (problem: string): void => expect.unreachable(problem);

/** One cluster for all tests here, made by the first: each leaves it stopped. */
let dir: Awaited<ReturnType<typeof makeTempDir>>;
let dataDir: string;
beforeAll(async () => {
  dir = await makeTempDir();
  dataDir = path.join(dir.folder, 'data');
});
afterAll(() => dir.remove());

describe('the embedded PostgreSQL', () => {
  test('is made once when two servers start at the same moment', async () => {
    const [a, b] = await Promise.all([startEmbeddedPostgres(dataDir, log), startEmbeddedPostgres(dataDir, log)]);
    expect(a.pid()).toBe(b.pid());
    expect([a.adopted, b.adopted]).toContain(true);
    a.leave();
    await b.stop();
  });

  test('keeps its folder closed, syncs to disk and listens on loopback only, with a password', async () => {
    const server = await startEmbeddedPostgres(dataDir, log);
    try {
      expect((await stat(path.join(dataDir, 'postgres'))).mode & 0o777).toBe(0o700);
      expect((await stat(path.join(dataDir, 'postgres', 'password'))).mode & 0o777).toBe(0o600);
      const sql = postgres(server.url, { max: 1 });
      const settings = await sql`
        select name, setting from pg_settings
        where name in ('fsync', 'full_page_writes', 'synchronous_commit', 'listen_addresses', 'unix_socket_directories')
        order by name`;
      await sql.end();
      expect(Object.fromEntries(settings.map((row) => [row['name'], row['setting']]))).toEqual({
        fsync: 'on',
        full_page_writes: 'on',
        listen_addresses: '127.0.0.1',
        synchronous_commit: 'on',
        unix_socket_directories: '',
      });
      const guess = Object.assign(new URL(server.url), { password: 'guess' }).href;
      const intruder = postgres(guess, { max: 1 });
      await expect(intruder`select 1`).rejects.toThrow(/password/);
      await intruder.end();
    } finally {
      await server.stop();
    }
    expect(isAlive(server.pid())).toBe(false);
  });

  test('that still runs is taken over, and a clean start follows a clean stop', async () => {
    const first = await startEmbeddedPostgres(dataDir, log);
    first.leave();
    const second = await startEmbeddedPostgres(dataDir, log);
    expect(second).toMatchObject({ adopted: true, url: first.url });
    expect(second.pid()).toBe(first.pid());
    await second.stop();
    const third = await startEmbeddedPostgres(dataDir, log);
    expect(third.adopted).toBe(false);
    await third.stop();
  });
});

describe('links that an install script should have made', () => {
  test('are made when missing', async () => {
    const { postgres: program } = await reachableBinaries(null);
    const original = path.resolve(path.dirname(program), '..');
    const copy = path.join(dir.folder, 'package', 'native');
    await cp(original, copy, { recursive: true, verbatimSymlinks: true, filter: (from) => !/share|bin$/.test(from) });
    const links = createRequire(import.meta.url)(path.join(original, 'pg-symlinks.json')) as { target: string }[];
    const link = path.join(copy, '..', links[0]!.target);
    const before = await readlink(link);
    await unlink(link);
    await makeMissingSymlinks(copy);
    expect(await readlink(link)).toBe(before);
    expect((await stat(link)).size).toBeGreaterThan(0);
  });
});

describe('the server lock', () => {
  test('refuses a second server on one DATA_DIR and leaves the first alone', async () => {
    const config = { dataDir, databaseUrl: null };
    const first = await openStore(config, log, noLoss);
    const second = openStore(config, log, noLoss);
    await expect(second).rejects.toThrow(SetupError);
    await expect(second).rejects.toThrow(new RegExp(`process ${process.pid}\\).*${dataDir}`));
    expect((await first.database.sql`select 1 as one`)[0]?.['one']).toBe(1);
    await first.close();
    await (await openStore(config, log, noLoss)).close();
  });

  test('ends connections that a dead server left, so that nothing is written behind our back', async () => {
    const server = await startEmbeddedPostgres(dataDir, log);
    const orphan = postgres(server.url, { max: 1, connection: { application_name: 'ambipede pool 1' } });
    await orphan`select 1`;
    const work = orphan`select pg_sleep(30)`.then(
      () => 'done',
      () => 'ended',
    );
    server.leave();
    const store = await openStore({ dataDir, databaseUrl: null }, log, noLoss);
    expect(await work).toBe('ended');
    await orphan.end({ timeout: 1 });
    await store.close();
  });
});

describe('migrations', () => {
  test('change nothing the second time, and refuse a database of a newer version', async () => {
    const server = await startEmbeddedPostgres(dataDir, log);
    try {
      await migrateDatabase(server.url);
      await migrateDatabase(server.url);
      const sql = postgres(server.url, { max: 1 });
      await sql`insert into drizzle.__drizzle_migrations (hash, created_at) values ('later', ${Date.now() * 2})`;
      await sql.end();
      await expect(migrateDatabase(server.url)).rejects.toThrow(/newer version/);
    } finally {
      await server.stop();
    }
  });
});

describe('a damaged folder', () => {
  test('is not taken for an empty one', async () => {
    expect(existsSync(path.join(dataDir, 'postgres', 'cluster'))).toBe(true);
    await rm(path.join(dataDir, 'postgres', 'cluster'), { recursive: true });
    await expect(startEmbeddedPostgres(dataDir, log)).rejects.toThrow(/damaged.*restore/s);
  });
});
