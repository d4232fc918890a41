/** From task to task, and two sessions against each other, as the server tells them. */
import { LADDER_TASKS, METRICS } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { waitUntil } from '../support/wait-until.ts';
import { CHROMIUM } from './chromium.ts';
import { comparisonOf, historyOf, ladderOf, sessionOf } from './history-answers.ts';
import { showScene } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';

const COMPARISON = 'GET /api/athletes/a1/comparison';
const HISTORY = 'GET /api/athletes/a1/session-history';

describe.skipIf(CHROMIUM === undefined)('task ladder and two sessions (needs Chromium)', () => {
  let world: World;
  let page: Page;
  usePage((suite) => ({ world, page } = suite), { timezoneId: 'UTC' });

  const words = async (selector: string) => (await page.locator(selector).innerText()).replace(/\s+/g, ' ').trim();
  const rung = (task: string) => `[data-testid=ladder-rung][data-task=${task}]`;
  const choose = (which: 'from' | 'to', id: string) => page.getByTestId(`compare-${which}`).selectOption(id);
  const sentences = () => page.getByTestId('comparison-result').getByRole('listitem').allInnerTexts();

  test('every task is a rung in its order, each with date, interval and n, and what is not measured says so and is not drawn', async () => {
    await showScene(page, world, 'history');
    await page.getByTestId('ladder').waitFor();
    const order = await page
      .getByTestId('ladder-rung')
      .evaluateAll((rungs) => rungs.map((each) => each.dataset['task']));
    expect(order).toEqual([...LADDER_TASKS]);
    expect(await words(rung('run'))).toBe(
      'Run 27 Jul 2026, 16:00 version 2.0.0 +2.2° more on the left 95 % interval +1.4° to +3.0° n 24 left, 23 right',
    );
    expect(await words(rung('single-leg-stand'))).toContain(
      '−1.5° more on the right no interval: fewer than two stands a side n 1 left, 2 right stands Too few to conclude anything',
    );
    expect(await words(rung('strides'))).toBe('Strides Not measured');
    expect(await words(rung('run-up'))).toBe('Run-up and take-off This metric does not exist in this task');
    const drawn = async (task: string) => page.locator(rung(task)).locator('.mark').count();
    expect(await Promise.all(LADDER_TASKS.map(drawn))).toEqual([0, 1, 1, 1, 0, 0]);
    expect(await page.locator(`${rung('single-leg-stand')} .mark.hollow`).count()).toBe(1);
    await page.getByText(ladderOf().remarks[0]!).waitFor();
  });

  test('a resting lean has no side that does more: its sign is said in words, of pelvis and trunk each their own', async () => {
    // Signs of docs/conventions.md: + is right side up, and a trunk with the right side up leans to the left.
    await showScene(page, world, 'history');
    await page.getByTestId('ladder').waitFor();
    expect(await words(rung('stand'))).toContain('−1.4° pelvis, left side up standard uncertainty ±0.7°, n = 2 stands');
    const stand = { ...ladderOf().rungs[0]!, segment: 'trunk', leanDeg: 2, uncertaintyDeg: null, n: 1 } as never;
    world.server.answers.set('GET /api/athletes/a1/ladder', ladderOf({ rungs: [stand] }));
    await page.reload();
    await page.getByTestId('ladder').waitFor();
    expect(await words(rung('stand'))).toContain('+2.0° trunk, leans to the left uncertainty not known, n = 1 stand');
  });

  test('a ladder that cannot be had does not take the rest of the page with it', async () => {
    world.server.answers.delete('GET /api/athletes/a1/ladder');
    await showScene(page, world, 'history');
    await page.getByText('The mock has no answer for /api/athletes/a1/ladder.').waitFor();
    await page.getByTestId('session-plot').waitFor();
    await page.getByTestId('history-row').first().waitFor();
  });

  test('two sessions are asked for as chosen, and the answer is the server’s, said with intervals and n', async () => {
    const asked: string[] = [];
    page.on('request', (request) => {
      const { pathname, search } = new URL(request.url());
      if (pathname.endsWith('/comparison')) asked.push(search);
    });
    await showScene(page, world, 'history');
    await choose('from', 'h6');
    expect(asked).toEqual([]);
    await choose('to', 'h7');
    await page.getByTestId('comparison-result').waitFor();
    expect(asked[0]).toBe('?task=run&metric=swingSideDropDeg&from=h6&to=h7');
    expect(await sentences()).toEqual([
      'From 6 Jul 2026, 16:00: +3.3°, 95 % interval +2.5° to +4.1°, n 24 left, 23 right.',
      'To 27 Jul 2026, 16:00: +2.2°, 95 % interval +1.4° to +3.0°, n 24 left, 23 right.',
      'Change −1.1° towards the right, 95 % interval −2.2° to 0.0°.',
      'Not more than step-to-step scatter, which does not show that nothing changed.',
      'Not more than the detectable change (1.3°): it could be noise from day to day.',
      'How the sensors sat on the two days is not known, and could make it.',
      'Both by version 2.0.0.',
    ]);
  });

  test('with too few stances nothing is concluded, and a published detectable change is named as one', async () => {
    world.server.answers.set(
      COMPARISON,
      comparisonOf({ tooFewStances: true, excludesZero: null, beyondDetectable: null, couldBePlacement: null }),
    );
    await showScene(page, world, 'history');
    await choose('from', 'h5');
    await choose('to', 'h7');
    await page.getByTestId('comparison-result').waitFor();
    expect((await sentences()).slice(3)).toEqual([
      'One of the two has too few stances a side: nothing is concluded.',
      'Both by version 2.0.0.',
    ]);
    world.server.answers.set(
      COMPARISON,
      comparisonOf({
        ...{ excludesZero: true, beyondDetectable: true, couldBePlacement: true, placementUncertainty: 1.3 },
        detectableChange: { basis: 'published default', change: 1, source: 'a paper', missingSessions: 2 },
      }),
    );
    await choose('from', 'h6');
    await waitUntil('the other answer is there', async () => (await sentences()).length === 8);
    expect((await sentences()).slice(3, 7)).toEqual([
      'More than step-to-step scatter.',
      'More than the detectable change (1.0°).',
      'That detectable change is a published default, not of this athlete (a paper).',
      'Could be how the sensors sat on the two days (within ±1.3°).',
    ]);
  });

  test('the same session twice, a refusal and a session that the other task lacks leave no old answer standing', async () => {
    await showScene(page, world, 'history');
    await choose('from', 'h6');
    await choose('to', 'h6');
    await page.getByText('That is the same session twice.').waitFor();
    await choose('to', 'h7');
    await page.getByTestId('comparison-result').waitFor();
    world.server.answers.delete(COMPARISON);
    await choose('to', 'h0');
    await page.getByText('The mock has no answer for /api/athletes/a1/comparison.').waitFor();
    expect(await page.getByTestId('comparison-result').count()).toBe(0);

    const walk = [sessionOf(1, 0.011), sessionOf(7, 0.02)];
    world.server.answers.set(HISTORY, historyOf({ task: 'walk', metric: 'contactTimeS', sessions: walk }));
    await page.getByTestId('months-task').selectOption('walk');
    await page.getByTestId('metric-select').selectOption('contactTimeS');
    await page.getByRole('heading', { name: `${METRICS.contactTimeS.label}: Walk, session by session` }).waitFor();
    expect(await page.getByTestId('compare-from').inputValue()).toBe('');
    expect(await page.getByTestId('comparison-result').count()).toBe(0);
  });
});
