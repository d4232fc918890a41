/** The built dashboard as the server hands it out and as a browser keeps it: size, headers, reload without a server, update. */
import { appendFileSync, cpSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';
import Fastify, { type FastifyInstance } from 'fastify';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { installWeb } from '../../server/src/routes/web.ts';
import { answerTo } from '../../web/src/offline/shell-rules.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { firstLoad } from './first-load.ts';
import { OPEN_DEMO } from './web-mock-server.ts';

const DIST = fileURLToPath(new URL('../../web/dist', import.meta.url));
/** The goal: what a page needs before it shows anything, gzipped. */
const FIRST_LOAD_BYTES_MAX = 150_000;

const read = (file: string): string => readFileSync(path.join(DIST, file), 'utf8');
const filesOf = (folder: string): string[] =>
  readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((file) => statSync(path.join(folder, file)).isFile())
    .map((file) => `/${file.replaceAll(path.sep, '/')}`);

describe('the built dashboard', () => {
  let app: FastifyInstance;

  beforeAll(async () => {
    app = Fastify();
    await installWeb(app, DIST);
  });
  afterAll(() => app.close());

  const get = (url: string, headers: Record<string, string> = {}) => app.inject({ url, headers });

  test('needs less than 150 kB gzipped for its first page', () => {
    const files = firstLoad(DIST);
    expect(files.filter((file) => file.endsWith('.js')).length).toBeGreaterThanOrEqual(1);
    expect(files.filter((file) => file.endsWith('.css')).length).toBeGreaterThanOrEqual(1);
    const bytes = files.reduce((sum, file) => sum + statSync(path.join(DIST, `${file}.gz`)).size, 0);
    expect(bytes).toBeLessThan(FIRST_LOAD_BYTES_MAX);
  });

  test('is handed out gzipped to whoever takes that, the same bytes, and plain to the others', async () => {
    for (const file of firstLoad(DIST)) {
      const packed = await get(`/${file}`, { 'accept-encoding': 'gzip' });
      expect([file, packed.headers['content-encoding']]).toEqual([file, 'gzip']);
      expect(packed.headers.vary).toMatch(/accept-encoding/i);
      expect(gunzipSync(packed.rawPayload).toString()).toBe(read(file));
      const plain = await get(`/${file}`, { 'accept-encoding': 'identity' });
      expect([plain.headers['content-encoding'], plain.payload]).toEqual([undefined, read(file)]);
      expect(plain.headers['content-type']).toBe(packed.headers['content-type']);
    }
    const page = await get('/any/page', { accept: 'text/html', 'accept-encoding': 'gzip' });
    expect(gunzipSync(page.rawPayload).toString()).toBe(read('index.html'));
  });

  test('lets nothing be kept by its name alone but files whose name changes with their content', async () => {
    for (const file of filesOf(DIST).filter((name) => !name.endsWith('.gz'))) {
      const kept = (await get(file)).headers['cache-control'];
      expect([file, kept]).toEqual([
        file,
        file.startsWith('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
      ]);
    }
  });

  // W3C, Web Application Manifest; PNG: width and height are the first numbers of the IHDR chunk (ISO/IEC 15948, 11.2.2).
  test('has a manifest whose icons are there, in the sizes that it says', async () => {
    const answer = await get('/manifest.webmanifest');
    expect(answer.headers['content-type']).toMatch(/^application\/manifest\+json/);
    const manifest = answer.json<{ start_url: string; icons: { src: string; sizes: string; purpose: string }[] }>();
    expect(manifest.start_url).toBe('/');
    for (const { src, sizes } of manifest.icons.filter((icon) => icon.src.endsWith('.png'))) {
      const png = (await get(src)).rawPayload;
      expect([src, `${png.readUInt32BE(16)}x${png.readUInt32BE(20)}`]).toEqual([src, sizes]);
    }
    expect(manifest.icons.map(({ purpose }) => purpose)).toEqual(expect.arrayContaining(['any', 'maskable']));
  });
});

describe('the service worker', () => {
  const origin = 'http://club.test';
  const shell = ['/', '/assets/a.js'];
  const asked = (url: string, mode = 'cors', method = 'GET') => answerTo({ method, mode, url }, origin, shell);

  test('answers for the page and its files, and leaves everything else to the network', () => {
    expect(asked(`${origin}/`, 'navigate')).toBe('page');
    expect(asked(`${origin}/?from=home`, 'navigate')).toBe('page');
    expect(asked(`${origin}/assets/a.js`)).toBe('stored file');
    const others = ['/api/athletes', '/api/trials/t1', '/live?athlete=a1', '/healthz', '/metrics', '/assets/b.js'];
    for (const url of others) expect([url, asked(origin + url)]).toEqual([url, 'network']);
    expect(asked('http://elsewhere.test/assets/a.js')).toBe('network');
    expect(asked(`${origin}/assets/a.js`, 'cors', 'POST')).toBe('network');
    expect(asked(`${origin}/api/athletes`, 'navigate')).toBe('network');
  });
});

describe.skipIf(CHROMIUM === undefined)('a browser that has seen the dashboard (needs Chromium)', () => {
  let browser: Browser;
  let app: FastifyInstance;
  let folder: Awaited<ReturnType<typeof makeTempDir>>;
  let dist: string;
  let page: Page;
  let address: string;

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());

  beforeEach(async () => {
    folder = await makeTempDir();
    dist = path.join(folder.folder, 'dist');
    cpSync(DIST, dist, { recursive: true });
    app = Fastify({ forceCloseConnections: true });
    app.get('/api/me', () => OPEN_DEMO);
    app.get('/api/athletes', () => [
      { id: 'a1', name: 'Mira Sand', lastTrialUtcMs: null, trialCount: 0, openSessionId: null, sensors: [] },
    ]);
    await installWeb(app, dist);
    address = await app.listen({ host: '127.0.0.1', port: 0 });
    page = await (await browser.newContext()).newPage();
    await page.goto(address);
    await page.evaluate(async () => void (await navigator.serviceWorker.ready));
  });
  afterEach(async () => {
    await page.context().close();
    await app.close();
    await folder.remove();
  });

  const becomes = (look: () => Promise<unknown>, wanted: unknown) =>
    expect.poll(look, { timeout: 15_000 }).toEqual(wanted);
  const stored = () =>
    page.evaluate(async () => {
      const names = await caches.keys();
      const keys = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
      return keys.flat().map(({ url }) => new URL(url).pathname);
    });

  test('has every file of the page and nothing that the server said of athletes, even after using it', async () => {
    await page.reload();
    await page.getByText('Mira Sand').first().waitFor();
    const files = filesOf(dist).filter((file) => !file.endsWith('.gz') && file !== '/worker.js');
    const wanted = files.map((file) => (file === '/index.html' ? '/' : file)).sort();
    expect((await stored()).sort()).toEqual(wanted);
  });

  test('reloads without a server and says that none answers; nobody from before is on the page', async () => {
    await page.getByText('Mira Sand').first().waitFor();
    await app.close();
    await page.reload();
    await page.getByRole('heading', { name: 'The server does not answer' }).waitFor();
    expect(await page.getByText('Mira Sand').count()).toBe(0);
    await page.goto(`${address}/#/live/a1`);
    await page.reload();
    const said = page.getByText(/The server does not answer|Nothing shown here is current/);
    await said.first().waitFor();
    expect(await page.getByTestId('stance-mark').count()).toBe(0);
  });

  test('lets a new version wait while a page of the old one is open', async () => {
    await page.reload();
    await becomes(() => page.evaluate(() => navigator.serviceWorker.controller?.state), 'activated');
    await page.evaluate(() => Object.assign(window, { notReloaded: true }));
    appendFileSync(path.join(dist, 'worker.js'), '\n// changed');
    rmSync(path.join(dist, 'worker.js.gz'));
    const states = () =>
      page.evaluate(async () => {
        const registration = await navigator.serviceWorker.ready;
        await registration.update();
        const { waiting, active } = registration;
        const same = navigator.serviceWorker.controller === active;
        return [waiting?.state, active?.state, same, 'notReloaded' in window];
      });
    await becomes(states, ['installed', 'activated', true, true]);
    // Asked again, it still waits.
    expect(await states()).toEqual(['installed', 'activated', true, true]);
  });
});
