/** The report of a return episode on paper. */
import { RETURN_SESSIONS_SHOWN_MAX } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { CHROMIUM } from './chromium.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';
import { episodeView, longEpisode, showReturn, tellEpisode } from './return-answers.ts';

/** A4 is 210 mm x 297 mm (ISO 216); the margins are the page's own, 15 mm; 96 px an inch (CSS Values 4). */
const PX_PER_MM = 96 / 25.4;
const PAPER = { width: Math.floor((210 - 2 * 15) * PX_PER_MM), height: Math.floor((297 - 2 * 15) * PX_PER_MM) };
/** 72 points an inch (PDF, ISO 32000-1). */
const POINTS_PER_MM = 72 / 25.4;

describe.skipIf(CHROMIUM === undefined)('the report of a return episode (needs Chromium)', () => {
  let world: World;
  let page: Page;
  usePage((suite) => ({ world, page } = suite));

  /** Metrics of the print layout at the width of the paper's inside. */
  const layout = async (): Promise<{ tall: string[]; cut: string[]; shown: string[] }> => {
    await page.setViewportSize(PAPER);
    await page.emulateMedia({ media: 'print' });
    return page.evaluate(({ width, height }) => {
      const of = (selector: string) =>
        [...document.querySelectorAll<HTMLElement>(selector)].filter((each) => each.checkVisibility());
      const name = (each: Element) => each.outerHTML.slice(0, 80);
      const report = '[data-testid=report]';
      const cut = of(`${report}, ${report} :is(p, h1, h2, h3, li, b, span)`).filter((each) => {
        const { left, right } = each.getBoundingClientRect();
        return (
          left < -0.5 ||
          right > width + 0.5 ||
          (each.scrollWidth > Math.max(each.clientWidth, 0) + 1 && each.clientWidth > 0)
        );
      });
      const kept = of(`${report} :is([data-testid=criterion], .keep)`);
      return {
        tall: kept
          .filter(
            (each) => each.getBoundingClientRect().height > height || getComputedStyle(each).breakInside !== 'avoid',
          )
          .map(name),
        cut: cut.map(name),
        shown: of('nav, button, a, select, input, .skip').map(name),
      };
    }, PAPER);
  };
  const print = async (): Promise<{ pages: number; boxes: string[] }> => {
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    return {
      pages: pdf.match(/\/Type\s*\/Page\b/g)?.length ?? 0,
      boxes: [...new Set(pdf.match(/\/MediaBox\s*\[[^\]]*\]/g))],
    };
  };

  test('the report is on A4, without controls, with nothing cut off and no criterion broken', async () => {
    tellEpisode(world, episodeView());
    await showReturn(page, world, '#/report/a1/e1', 'report');
    expect(await page.getByTestId('print').isVisible()).toBe(true);
    const text = await page.getByTestId('report').innerText();
    for (const part of ['Mira Sand', 'May strides start again', 'n 14 left, 15 right', 'Ada Brook', 'clears nobody'])
      expect(text).toContain(part);
    expect(await page.getByTestId('signatures').locator('.line').count()).toBe(3);
    expect(await layout()).toEqual({ tall: [], cut: [], shown: [] });
    const { pages, boxes } = await print();
    expect(boxes).toHaveLength(1);
    const [, , widthPt, heightPt] = boxes[0]!.match(/[\d.]+/g)!.map(Number);
    // Chromium rounds to whole CSS pixels, so to 0.75 points.
    expect(Math.abs(widthPt! - 210 * POINTS_PER_MM)).toBeLessThan(1);
    expect(Math.abs(heightPt! - 297 * POINTS_PER_MM)).toBeLessThan(1);
    expect(pages).toBe(2);
  });

  test('a criterion with as many sessions as are shown still fits one page, and each has its own', async () => {
    tellEpisode(world, { ...longEpisode(3, RETURN_SESSIONS_SHOWN_MAX), question: 'wide'.repeat(60) });
    await showReturn(page, world, '#/report/a1/e1', 'report');
    expect(await layout()).toEqual({ tall: [], cut: [], shown: [] });
    const height = await page
      .getByTestId('criterion')
      .first()
      .evaluate((each) => each.getBoundingClientRect().height);
    // Two of them do not fit one page, so each stands on its own; before them the head, after them the signatures.
    expect(height).toBeGreaterThan(PAPER.height / 2);
    expect((await print()).pages).toBe(5);
  });

  test('the check of the layout finds what is cut off and what is taller than a page', async () => {
    tellEpisode(world, episodeView());
    await showReturn(page, world, '#/report/a1/e1', 'report');
    await page.evaluate(() => {
      const [first, second] = document.querySelectorAll<HTMLElement>('[data-testid=criterion]');
      first!.style.minHeight = '300mm';
      second!.querySelector('h3')!.style.cssText = 'white-space: nowrap; font-size: 3rem';
    });
    const { tall, cut } = await layout();
    expect(tall).toHaveLength(1);
    expect(cut.some((each) => each.startsWith('<h3'))).toBe(true);
  });

  test('an address that names no episode has no page', async () => {
    for (const hash of ['#/report/a1', '#/report/a1/', '#/return/a1/e1', '#/report/a1/e1/x']) {
      await page.goto('about:blank');
      await page.goto(`${world.server.address}/${hash}`);
      await page.getByText('There is no page at this address.').waitFor();
    }
  });

  test('an episode that the server does not know is said, and nothing is printed in its stead', async () => {
    await page.goto(`${world.server.address}/#/report/a1/e9`);
    await page.getByText('The mock has no answer for').waitFor();
    expect(await page.getByTestId('report').count()).toBe(0);
  });
});
