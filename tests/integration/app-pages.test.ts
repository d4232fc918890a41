/** The built dashboard as the server hands it out. */
import { mkdir, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeTempDir } from '../support/temp-dir.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';

let server: TestPostgres;
let api: TestApp;
let dir: Awaited<ReturnType<typeof makeTempDir>>;
beforeAll(async () => {
  dir = await makeTempDir();
  await mkdir(path.join(dir.folder, 'assets'));
  await writeFile(path.join(dir.folder, 'index.html'), '<!doctype html><title>page</title>');
  await writeFile(path.join(dir.folder, 'assets', 'page-1a2b.js'), 'export {};');
  server = await startTestPostgres();
  api = await startTestApp(await server.newDatabase(), { webDir: dir.folder });
});
afterAll(async () => {
  await api?.close();
  await server?.stop();
  await dir.remove();
});

describe('the pages', () => {
  test('are served, with the page itself for any address that a browser opens', async () => {
    const get = (url: string, accept: string) => fetch(api.url + url, { headers: { accept } });
    for (const url of ['/', '/somewhere/else']) {
      const page = await get(url, 'text/html,*/*');
      expect([page.status, page.headers.get('cache-control'), await page.text()]).toEqual([
        200,
        'no-cache',
        '<!doctype html><title>page</title>',
      ]);
    }
    const asset = await get('/assets/page-1a2b.js', '*/*');
    expect(asset.headers.get('cache-control')).toContain('immutable');
    expect((await get('/assets/missing.js', '*/*')).status).toBe(404);
    expect((await get('/assets/..%2f..%2fpackage.json', '*/*')).status).toBe(404);
  });
});
