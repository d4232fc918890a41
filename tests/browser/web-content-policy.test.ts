/** Every page under the policy of content that the server sends with it (W3C, Content Security Policy Level 3). */
import Fastify from 'fastify';
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import { installHeaders } from '../../server/src/access/headers.ts';
import { watch } from './access-suite.ts';
import { CHROMIUM } from './chromium.ts';
import { SCENES, showScene, type SceneName } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';

const POLICY = 'content-security-policy';

describe.skipIf(CHROMIUM === undefined)('the policy of content (needs Chromium)', () => {
  let world: World;
  let page: Page;
  let policy: string;
  let told: string[];
  beforeAll(async () => {
    const app = Fastify();
    await installHeaders(app, false);
    app.get('/', () => 'a page');
    policy = String((await app.inject('/')).headers[POLICY]);
    await app.close();
  });
  usePage(async (suite) => {
    ({ world, page } = suite);
    told = [];
    await watch(page, told);
    world.server.pageHeaders = { [POLICY]: policy };
  });

  test('forbids what is inline and whatever comes from elsewhere', () => {
    expect(policy).toContain("default-src 'none'");
    expect(policy).toContain("script-src 'self'");
    expect(policy).toContain("style-src 'self'");
    expect(policy).not.toMatch(/unsafe|\*|https?:/);
  });

  for (const name of Object.keys(SCENES) as SceneName[]) {
    test(`${name}: works, and breaks nothing of it`, async () => {
      await showScene(page, world, name);
      expect(told).toEqual([]);
    });
  }

  test('a page that does break it is told of', async () => {
    await showScene(page, world, 'roster');
    await page.evaluate(() => document.body.setAttribute('style', 'color: red'));
    await expect.poll(() => told.length).toBeGreaterThan(0);
    expect(told[0]).toMatch(/^style-src/);
  });
});
