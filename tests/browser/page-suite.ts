/** A browser for all tests of a group, and for each of them a fresh page with a fresh world behind it. */
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach } from 'vitest';
import { launchChromium } from './chromium.ts';
import { answerAll } from './page-answers.ts';
import { SCREENS } from './page-scenes.ts';
import { startWorld, type World } from './page-world.ts';

/**
 * Call it in a `describe` that is skipped without a Chromium.
 * @param ready is given what was started, before each test
 */
export function usePage(
  ready: (suite: { world: World; page: Page }) => unknown,
  context: BrowserContextOptions = {},
): void {
  let browser: Browser | undefined;
  let world: World | undefined;
  let page: Page | undefined;
  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());
  beforeEach(async () => {
    world = await startWorld();
    answerAll(world);
    const options = { viewport: SCREENS.tablet, serviceWorkers: 'block' as const, ...context };
    page = await (await browser!.newContext(options)).newPage();
    await ready({ world, page });
  });
  afterEach(async () => {
    await page?.context().close();
    await world?.close();
  });
}
