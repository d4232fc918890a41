/** The page about analysing stored trials again: what is outdated, how far a run is, how it ended. */
import type { Page } from 'playwright-core';
import type { ReAnalysisRun, ReAnalysisView } from '@ambipede/shared';
import { describe, expect, test } from 'vitest';
import { waitUntil } from '../support/wait-until.ts';
import { violationsOf } from './axe.ts';
import { CHROMIUM } from './chromium.ts';
import { historyOf } from './history-answers.ts';
import { SCHEMES, SCREENS, showScene } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';

const PATH = '/api/re-analysis';
/** The project's own; WCAG 2.2 asks for 24 (success criterion 2.5.8). */
const TARGET_PX = 48;
const PHONE_PX = 360;

const runOf = (changes: Partial<ReAnalysisRun> = {}): ReAnalysisRun => ({
  id: 'r1',
  version: 'test-2',
  scope: 'outdated',
  state: 'running',
  startedUtcMs: Date.UTC(2026, 8, 1, 16),
  endedUtcMs: null,
  trialsTotal: 40,
  done: 9,
  failed: 1,
  remainingS: 95,
  failures: [{ trialId: 't1', reason: 'No samples of this trial are stored of the sensor at: pelvis.' }],
  ...changes,
});
const viewOf = (run: ReAnalysisRun | null, changes: Partial<ReAnalysisView> = {}): ReAnalysisView => ({
  version: 'test-2',
  outdatedTrials: 31,
  withoutResult: 2,
  run,
  ...changes,
});

describe.skipIf(CHROMIUM === undefined)('analysing stored trials again (needs Chromium)', () => {
  let world: World;
  let page: Page;
  /** `METHOD path body` of each request that changes something. */
  let asked: string[];
  usePage(
    (suite) => {
      ({ world, page } = suite);
      asked = [];
      page.on('request', (request) => {
        if (request.method() === 'GET') return;
        asked.push(`${request.method()} ${new URL(request.url()).pathname} ${request.postData() ?? ''}`.trim());
      });
    },
    { timezoneId: 'UTC' },
  );

  const tell = (view: ReAnalysisView): void => void world.server.answers.set(`GET ${PATH}`, view);
  const show = async (view: ReAnalysisView): Promise<void> => {
    tell(view);
    await page.goto('about:blank');
    await page.goto(`${world.server.address}/#/re-analysis`);
    await page.getByTestId('re-analysis').waitFor();
  };
  const said = (id: string) => page.getByTestId(id).getByRole('listitem').allInnerTexts();
  const inState = (state: string) => page.locator(`[data-testid=run-state][data-state=${state}]`).waitFor();

  test('says how many trials are outdated, starts a run, shows it in words and as a bar, and cancels it', async () => {
    await show(viewOf(null));
    expect(await said('outdated')).toEqual([
      'This server analyses with version test-2.',
      '29 trials with a result of another version.',
      '2 trials without a result, because the analysis failed. It may fail again.',
    ]);
    await page.getByText('No run yet.').waitFor();
    world.server.answers.set(`POST ${PATH}`, viewOf(runOf()));
    tell(viewOf(runOf()));
    await page.getByTestId('start-outdated').click();
    await inState('running');
    await waitUntil('the focus is on the page', () => page.evaluate(() => document.activeElement?.tagName === 'H1'));
    expect(await said('run-words')).toEqual([
      'Started 1 Sept 2026, 16:00, version test-2.',
      '10 of 40 trials dealt with.',
      '1 trial could not be analysed again and keeps what was there.',
      'About 2 min left, at the pace so far.',
      'This page may be closed: the server goes on, also after a restart.',
    ]);
    const bar = page.getByRole('progressbar', { name: 'Trials dealt with' });
    expect(await bar.evaluate((each: HTMLProgressElement) => [each.value, each.max])).toEqual([10, 40]);
    expect(await page.getByTestId('start-outdated').count()).toBe(0);
    world.server.answers.set(`POST ${PATH}/cancel`, viewOf(runOf()));
    const cancelled = runOf({ state: 'cancelled', endedUtcMs: Date.UTC(2026, 8, 1, 16, 5), remainingS: null });
    tell(viewOf(cancelled));
    await page.getByTestId('cancel').click();
    await inState('cancelled');
    expect((await said('run-words')).slice(1)).toEqual([
      'Ended 1 Sept 2026, 16:05.',
      '9 trials analysed again.',
      '1 trial could not be analysed again and keeps what was there.',
      '30 trials not dealt with.',
    ]);
    expect(asked).toEqual([`POST ${PATH} {"scope":"outdated"}`, `POST ${PATH}/cancel`]);
  });

  test('of a run that is done it tells which trials kept their result and why, and that none is outdated', async () => {
    const ended = { state: 'done', endedUtcMs: Date.UTC(2026, 8, 1, 17), remainingS: null } as const;
    await show(viewOf(runOf({ ...ended, done: 36, failed: 3 }), { outdatedTrials: 0, withoutResult: 0 }));
    expect(await said('outdated')).toContain('All results are of this version.');
    expect(await said('run-words')).toContain('1 trial had got a newer result otherwise, or had been removed.');
    const failure = page.getByTestId('run-failure');
    expect(await failure.innerText()).toContain('No samples of this trial are stored');
    expect(await failure.getByRole('link').getAttribute('href')).toBe('#/trial/t1');
    await page.getByText('Why 2 trials more could not be analysed stands in the server’s log.').waitFor();
    expect(await page.getByTestId('start-outdated').isDisabled()).toBe(true);
    world.server.answers.set(`POST ${PATH}`, viewOf(runOf()));
    await page.getByTestId('start-all').click();
    await waitUntil('it is asked for', () => asked.includes(`POST ${PATH} {"scope":"all"}`));
  });

  test('a refusal is shown, and what is old says so and is not acted upon', async () => {
    await show(viewOf(null));
    await page.getByTestId('start-outdated').click();
    await page.getByText(`The mock has no answer for ${PATH}.`).waitFor();
    // An error is no end: the page asks again.
    world.server.answers.delete(`GET ${PATH}`);
    await page.getByText(/What you see is \d+ s old\./).waitFor();
    tell(viewOf(runOf()));
    await inState('running');
    expect(await page.getByText(/What you see is/).count()).toBe(0);
    tell(viewOf(null));
    await page.getByTestId('start-outdated').waitFor();
    await world.server.close();
    await page.getByText(/The server does not answer\. What you see is \d+ s old\./).waitFor();
    expect(await page.getByTestId('start-outdated').isDisabled()).toBe(true);
    expect(await page.getByTestId('start-all').isDisabled()).toBe(true);
  });

  test('where versions differ the history leads to it', async () => {
    world.server.answers.set('GET /api/athletes/a1/session-history', {
      ...historyOf(),
      versions: [
        { version: '2.0.0', sessions: 6, used: true },
        { version: '1.0.0', sessions: 1, used: false },
      ],
    });
    tell(viewOf(null));
    await showScene(page, world, 'history');
    const link = page.getByTestId('months').getByRole('link', { name: 'Analyse older trials again' });
    await link.click();
    await page.getByTestId('re-analysis').waitFor();
  });

  test('no violation on tablet and phone, light and dark, targets for a wet finger, nothing wider than the screen', async () => {
    const wrong: string[] = [];
    for (const viewport of [SCREENS.tablet, { ...SCREENS.phone, width: PHONE_PX }]) {
      await page.setViewportSize(viewport);
      for (const colorScheme of SCHEMES) {
        await page.emulateMedia({ colorScheme });
        for (const run of [null, runOf(), runOf({ state: 'superseded', endedUtcMs: 0 })]) {
          await show(viewOf(run));
          const where = `${viewport.width} px, ${colorScheme}, ${run?.state}`;
          wrong.push(...(await violationsOf(page)).map((line) => `${where}: ${line}`));
          const tooWide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
          if (tooWide > 0) wrong.push(`${where}: ${tooWide} px wider than the screen`);
          const small = await page
            .locator('main :is(button, a)')
            .evaluateAll(
              (all, px) => all.filter((each) => each.getBoundingClientRect().height < px - 0.5).length,
              TARGET_PX,
            );
          if (small > 0) wrong.push(`${where}: ${small} small targets`);
        }
      }
    }
    expect(wrong).toEqual([]);
  });
});
