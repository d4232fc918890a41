/** Every page against the rules of WCAG 2.2 A and AA that a program can check, and by keyboard alone. */
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { violationsOf } from './axe.ts';
import { CHROMIUM } from './chromium.ts';
import { trialOf } from './page-answers.ts';
import { SCENES, SCHEMES, SCREENS, showScene, type SceneName } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import { SESSION, type World } from './page-world.ts';

/** The project's own; WCAG 2.2 asks for 24 (success criterion 2.5.8). */
const TARGET_PX = 48;
const TARGETS = 'button, a.button, select, summary, input:not(.hidden), textarea, header a, nav a';
const NAMES = Object.keys(SCENES) as SceneName[];
/** More stops than any page has. */
const TABS_MAX = 120;

describe.skipIf(CHROMIUM === undefined)('accessibility (needs Chromium)', () => {
  let world: World;
  let page: Page;
  usePage((suite) => ({ world, page } = suite));

  /** Tabs on until the element with that test id has the focus; fails when it never does. */
  const tabTo = async (id: string): Promise<void> => {
    for (let i = 0; i < TABS_MAX; i++) {
      await page.keyboard.press('Tab');
      if (await page.evaluate((wanted) => document.activeElement?.getAttribute('data-testid') === wanted, id)) return;
    }
    throw new Error(`Tab never reaches ${id}.`);
  };

  for (const name of NAMES) {
    test(`${name}: no violation on tablet and phone, light and dark; targets for a wet finger; nothing wider than the screen`, async () => {
      const wrong: string[] = [];
      for (const [screen, viewport] of Object.entries(SCREENS)) {
        await page.setViewportSize(viewport);
        for (const colorScheme of SCHEMES) {
          await page.emulateMedia({ colorScheme });
          await showScene(page, world, name);
          wrong.push(...(await violationsOf(page)).map((line) => `${screen}, ${colorScheme}: ${line}`));
        }
        const small = await page.locator(TARGETS).evaluateAll(
          (targets, px) =>
            targets
              // A choice is hit on the whole of its label.
              .map((target) =>
                target.matches('[type=radio], [type=checkbox]') ? (target.closest('label') ?? target) : target,
              )
              .map((target) => ({ target, box: target.getBoundingClientRect() }))
              // Half a pixel: sizes in rem are rounded to the screen.
              .filter(
                ({ target, box }) =>
                  target.checkVisibility() && box.width > 1 && Math.min(box.width, box.height) < px - 0.5,
              )
              .map(({ target, box }) => `${target.outerHTML.slice(0, 90)} is ${box.width} x ${box.height}`),
          TARGET_PX,
        );
        wrong.push(...small.map((line) => `${screen}, small: ${line}`));
        const tooWide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (tooWide > 0) wrong.push(`${screen}: ${tooWide} px wider than the screen`);
      }
      expect(wrong).toEqual([]);
    });
  }

  test('the checker finds what is wrong: a picture without words, and a name in faint ink', async () => {
    await showScene(page, world, 'roster');
    await page.evaluate(() => {
      const faint = '<img src="/plumb.svg" /><p style="color: #ccc; background: #fff">faint</p>';
      document.querySelector('main')!.insertAdjacentHTML('beforeend', faint);
    });
    const rules = (await violationsOf(page)).map((line) => line.split(':')[0]);
    expect(rules.sort()).toEqual(['color-contrast', 'image-alt']);
  });

  test('a trial goes from the cautions to its stop by keyboard alone, with the focus in sight', async () => {
    const asked: string[] = [];
    page.on('request', (request) => {
      if (request.method() !== 'POST') return;
      asked.push(new URL(request.url()).pathname);
      const starts = asked.length === 1;
      const trial = { trialId: 't5', task: 'run', startedUtcMs: Date.now() } as const;
      world.now.session = starts ? { ...SESSION, trial } : SESSION;
      world.tell();
    });
    world.server.answers.set('POST /api/sessions/s1/trials', { ...trialOf('run', 4), state: 'running' });
    world.server.answers.set('POST /api/trials/t5/stop', { ...trialOf('run', 4), state: 're-analysing' });
    await showScene(page, world, 'live-before');
    for (const id of ['cautions-acknowledge', 'trial-start', 'trial-stop']) {
      await page.getByTestId(id).waitFor();
      await tabTo(id);
      const outline = await page.evaluate(() => {
        const { outlineStyle, outlineWidth } = getComputedStyle(document.activeElement!);
        return { outlineStyle, px: Number.parseFloat(outlineWidth) };
      });
      expect([id, outline]).toEqual([id, { outlineStyle: 'solid', px: 3 }]);
      expect(await page.evaluate(() => document.activeElement!.getBoundingClientRect().top < innerHeight)).toBe(true);
      await page.keyboard.press('Enter');
    }
    await page.getByTestId('trial-start').waitFor();
    expect(asked).toEqual(['/api/sessions/s1/trials', '/api/trials/t5/stop']);
  });

  test('every stop of the keyboard shows its focus', async () => {
    for (const name of NAMES) {
      await showScene(page, world, name);
      const bad = new Set<string>();
      for (let i = 0; i < TABS_MAX; i++) {
        await page.keyboard.press('Tab');
        const stop = await page.evaluate(() => {
          const at = document.activeElement;
          if (at === null || at === document.body) return null;
          const { outlineStyle, outlineWidth } = getComputedStyle(at);
          return {
            html: at.outerHTML.slice(0, 120),
            seen: outlineStyle !== 'none' && Number.parseFloat(outlineWidth) >= 2,
          };
        });
        if (stop === null) break;
        if (!stop.seen) bad.add(stop.html);
      }
      expect([name, [...bad]]).toEqual([name, []]);
    }
  });

  test('nothing moves by itself where less motion is asked for', async () => {
    await page.emulateMedia({ reducedMotion: 'reduce' });
    for (const name of NAMES) {
      await showScene(page, world, name);
      const moving = await page.evaluate(() => {
        const timed = [...document.querySelectorAll('*')].filter((element) => {
          const { transitionDuration, animationName } = getComputedStyle(element);
          return animationName !== 'none' || transitionDuration.split(',').some((time) => Number.parseFloat(time) > 0);
        });
        return [document.getAnimations().length, timed.length];
      });
      expect([name, moving]).toEqual([name, [0, 0]]);
    }
  });
});
