/** The pages of a return episode: how criteria stand, and what is recorded. */
import type { Page } from 'playwright-core';
import type { ReturnEpisodeView } from '@ambipede/shared';
import { describe, expect, test } from 'vitest';
import { waitUntil } from '../support/wait-until.ts';
import { violationsOf } from './axe.ts';
import { CHROMIUM } from './chromium.ts';
import { SCHEMES, SCREENS } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';
import { criterionOf, episodeView, LIST, sessionOf, showReturn, tellEpisode } from './return-answers.ts';

/** Address, what is there when it is, and what is pressed then. */
const VIEWS = [
  ['#/return/a1', 'episode', 'add-criterion'],
  ['#/return/a1', 'episode', 'new-episode'],
  ['#/report/a1/e1', 'report', ''],
] as const;
/** The project's own; WCAG 2.2 asks for 24 (success criterion 2.5.8). */
const TARGET_PX = 48;

describe.skipIf(CHROMIUM === undefined)('a return episode (needs Chromium)', () => {
  let world: World;
  let page: Page;
  /** `METHOD path body` of each request that changes something. */
  let asked: string[];
  usePage((suite) => {
    ({ world, page } = suite);
    asked = [];
    page.on('request', (request) => {
      if (request.method() === 'GET') return;
      asked.push(`${request.method()} ${new URL(request.url()).pathname} ${request.postData() ?? ''}`.trim());
    });
  });

  const tell = (view: ReturnEpisodeView): void => tellEpisode(world, view);
  const show = (hash: string, shows: string): Promise<void> => showReturn(page, world, hash, shows);
  const criterion = (id: string) => page.locator(`[data-testid=criterion][data-id=${id}]`);

  test('each criterion says in words how it stands, in the order of the server, with what it lacks', async () => {
    tell(episodeView());
    await show('#/return/a1', 'episode');
    const ids = await page
      .getByTestId('criterion')
      .evaluateAll((all) => all.map((each) => (each as HTMLElement).dataset['id']));
    expect(ids).toEqual(['c-outside', 'c-none', 'c-open', 'c-within']);
    expect(await page.locator('p.state').allInnerTexts()).toEqual([
      'Outside the limit',
      'Not measured since the onset: 2 more sessions',
      'Cannot tell yet: about 12 more stances a side',
      'Within the limit',
    ]);
    const outside = await criterion('c-outside').innerText();
    expect(outside).toContain('Strides, swing side drop: within ±2.5°, 2 sessions in a row');
    expect(outside).toContain('4.1° more on the left than on the other side; 90 % interval +3.0° to +5.2°');
    expect(outside).toContain('Weaker comparison');
    expect(outside).toContain('Sessions analysed by version 2.0.0 (3) are left out');
    expect(outside).toContain('Analysed by version 2.1.0.');
    expect(await criterion('c-within').getByTestId('baseline').innerText()).toBe(
      'Compared with the mean of 4 sessions before the onset: +0.6°, standard error 0.21°.',
    );
    const unknown = await criterion('c-open').locator('[data-testid=return-session]').last().innerText();
    expect(unknown).toContain('No usable difference; no interval');
    expect(unknown).toContain('too few stances');
  });

  test('the interval is drawn beyond the line of the limit exactly when the server says outside', async () => {
    tell(
      episodeView({
        criteria: [
          criterionOf('c-left', 'outside', [sessionOf(0, 'outside', 4.1)]),
          criterionOf('c-right', 'outside', [sessionOf(0, 'outside', -4.1)]),
          criterionOf('c-in', 'within', [sessionOf(0, 'within', 0.4)]),
        ],
      }),
    );
    await show('#/return/a1', 'episode');
    const drawn = (id: string) =>
      criterion(id)
        .getByTestId('limit-strip')
        .evaluate((strip) => {
          const middle = (each: Element) => each.getBoundingClientRect().left + each.getBoundingClientRect().width / 2;
          const [a, b] = [...strip.children].filter((each) => each.matches('i')).map(middle) as [number, number];
          const bar = strip.querySelector('.interval')!.getBoundingClientRect();
          return { limit: [a, b], bar: [bar.left, bar.right], plumb: middle(strip) };
        });
    // More on the left is drawn to the left.
    const left = await drawn('c-left');
    expect(left.limit[0]).toBeLessThan(left.plumb);
    expect(left.bar[1]).toBeLessThan(left.limit[0]!);
    const right = await drawn('c-right');
    expect(right.bar[0]).toBeGreaterThan(right.limit[1]!);
    const within = await drawn('c-in');
    expect(within.bar[0]).toBeGreaterThan(within.limit[0]!);
    expect(within.bar[1]).toBeLessThan(within.limit[1]!);
  });

  test('an episode is made with onset, side, question and baseline; what is missing is said first', async () => {
    world.server.answers.set(`GET ${LIST}`, []);
    await show('#/return/a1', 'new-episode');
    await page.getByTestId('new-episode').click();
    await page.getByText('Save', { exact: true }).click();
    await page.getByText('Give the day of the onset.').waitFor();
    await page.getByText('Choose the affected side.').waitFor();
    expect(asked).toEqual([]);
    await page.getByLabel('Onset').fill('2026-06-01');
    await page.getByRole('radio', { name: 'Right' }).check();
    await page.getByLabel('Question to be decided').fill(' May she run? ');
    await page.getByLabel('Compare with').selectOption('unaffected side');
    const made = episodeView();
    world.server.answers.set(`POST ${LIST}`, made);
    tell(made);
    await page.getByText('Save', { exact: true }).click();
    await page.getByTestId('episode').waitFor();
    const onsetUtcMs = new Date(2026, 5, 1).getTime();
    const body = { onsetUtcMs, affectedSide: 'right', baseline: 'unaffected side', question: 'May she run?' };
    expect(asked).toHaveLength(1);
    expect(asked[0]).toMatch(/^POST \/api\/athletes\/a1\/return-episodes /);
    expect(JSON.parse(asked[0]!.split(' ').slice(2).join(' '))).toEqual(body);
  });

  test('a criterion is added, changed and removed, the last only when asked twice; a refusal is shown', async () => {
    tell(episodeView());
    await show('#/return/a1', 'episode');
    await page.getByTestId('add-criterion').click();
    await page.getByTestId('criterion-task').selectOption('walk');
    await page.getByTestId('criterion-metric').selectOption('contactTimeS');
    await page.getByTestId('criterion-row').selectOption('3');
    const limit = page.getByLabel('Limit, plus or minus, in s');
    await limit.fill('abc');
    await page.getByText('Save', { exact: true }).click();
    await page.getByText('Give a number above 0').waitFor();
    expect(asked).toEqual([]);
    await limit.fill('0,02');
    await page.getByText('Save', { exact: true }).click();
    await page.getByText('The mock has no answer for').waitFor();
    expect(await limit.inputValue()).toBe('0,02');
    world.server.answers.set(`POST ${LIST}/e1/criteria`, {});
    await page.getByText('Save', { exact: true }).click();
    await page.getByTestId('add-criterion').waitFor();
    const added = `POST ${LIST}/e1/criteria {"task":"walk","metric":"contactTimeS","limit":0.02,"sessionsInARow":3}`;
    expect(asked).toEqual([added, added]);

    asked.length = 0;
    world.server.answers.set(`PATCH ${LIST}/e1/criteria/c-within`, {});
    await criterion('c-within').getByText('Change', { exact: true }).click();
    await criterion('c-within').getByLabel('Limit, plus or minus, in °').fill('3');
    await criterion('c-within').getByText('Save', { exact: true }).click();
    await criterion('c-within').getByTestId('return-form').waitFor({ state: 'detached' });
    world.server.answers.set(`DELETE ${LIST}/e1/criteria/c-open`, { id: 'c-open' });
    await criterion('c-open').getByText('Remove', { exact: true }).click();
    expect(asked).toHaveLength(1);
    await criterion('c-open').getByTestId('remove-sure').click();
    await criterion('c-open').getByTestId('remove-sure').waitFor({ state: 'detached' });
    expect(asked).toEqual([
      `PATCH ${LIST}/e1/criteria/c-within {"task":"walk","metric":"swingSideDropDeg","limit":3,"sessionsInARow":2}`,
      `DELETE ${LIST}/e1/criteria/c-open`,
    ]);
  });

  test('a decision takes name, words and reason, nothing is filled in, and the cautions stand beside it', async () => {
    const view = episodeView();
    tell(view);
    await show('#/return/a1', 'episode');
    const decisions = page.getByTestId('decisions');
    for (const caution of view.cautions) expect(await decisions.innerText()).toContain(caution);
    expect(await decisions.innerText()).toContain('The states above decide nothing.');
    const fields = ['Your name', 'What you decided, in your own words', 'Why'].map((label) =>
      decisions.getByLabel(label, { exact: true }),
    );
    for (const field of fields) expect(await field.inputValue()).toBe('');
    await page.getByText('Record the decision').click();
    expect(await decisions.getByText('Say it in a few words.').count()).toBe(3);
    expect(asked).toEqual([]);
    const words = { deciderName: 'Ada Brook', decision: 'Strides at half pace.', reason: 'Two calm weeks.' };
    for (const [i, text] of Object.values(words).entries()) await fields[i]!.fill(text);
    const recorded = { ...view.decisions[0]!, ...words, id: 'd2', decidedUtcMs: Date.UTC(2026, 6, 1, 10) };
    world.server.answers.set(`POST ${LIST}/e1/decisions`, recorded);
    tell({ ...view, decisions: [...view.decisions, recorded] });
    await page.getByText('Record the decision').click();
    await waitUntil('the decision in the list', async () => (await page.getByTestId('decision').count()) === 2);
    expect(asked).toEqual([`POST ${LIST}/e1/decisions ${JSON.stringify(words)}`]);
    expect(await page.getByTestId('decision').last().innerText()).toContain('Strides at half pace.');
    expect(await fields[1]!.inputValue()).toBe('');
  });

  test('no violation on tablet and phone, light and dark, and nothing wider than the screen', async () => {
    tell(episodeView());
    const wrong: string[] = [];
    for (const [screen, viewport] of Object.entries(SCREENS)) {
      await page.setViewportSize(viewport);
      for (const colorScheme of SCHEMES) {
        await page.emulateMedia({ colorScheme });
        for (const [hash, shows, press] of VIEWS) {
          await show(hash, shows);
          if (press !== '') await page.getByTestId(press).click();
          const where = `${screen}, ${colorScheme}, ${hash} ${press}`;
          wrong.push(...(await violationsOf(page)).map((line) => `${where}: ${line}`));
          const tooWide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
          const small = await page
            .locator('main :is(button, a, select, textarea, input:not([type=radio]))')
            .evaluateAll(
              (all, px) => all.filter((each) => each.getBoundingClientRect().height < px - 0.5).length,
              TARGET_PX,
            );
          if (small > 0) wrong.push(`${where}: ${small} small targets`);
          if (tooWide > 0) wrong.push(`${where}: ${tooWide} px wider than the screen`);
        }
      }
    }
    expect(wrong).toEqual([]);
  });

  test('the first load of another page fetches nothing of these pages', async () => {
    const fetched: string[] = [];
    page.on('request', (request) => fetched.push(new URL(request.url()).pathname));
    await show('#/', 'athlete');
    const first = new Set(fetched.filter((path) => path.startsWith('/assets/')));
    tell(episodeView());
    await page.evaluate(() => (location.hash = '#/return/a1'));
    await page.getByTestId('episode').waitFor();
    const later = fetched.filter((path) => path.startsWith('/assets/') && !first.has(path));
    expect(later.some((path) => path.endsWith('.js'))).toBe(true);
  });
});
