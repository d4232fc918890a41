/** The history over sessions: what is drawn where, what is said of it, and the way from a session to its trials. */
import { METRICS, type SessionHistory } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { trendText } from '../../web/src/history/history-words.ts';
import { waitUntil } from '../support/wait-until.ts';
import { CHROMIUM } from './chromium.ts';
import { DAY_MS, FIRST_UTC_MS, SESSIONS, historyOf, sessionOf } from './history-answers.ts';
import { trialOf } from './page-answers.ts';
import { showScene } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';

const PATH = 'GET /api/athletes/a1/session-history';

test('a difference that rises moves to the left, where more on the left is drawn, also while it is more on the right', () => {
  const trend = (state: 'rising' | 'falling', perDay: number) =>
    trendText(
      historyOf({ trend: { state, sessions: 6, slopePerDay: perDay, ci95: [perDay / 2, 2 * perDay], coverage: 0.95 } }),
      METRICS.swingSideDropDeg,
    );
  expect(trend('rising', 0.1)).toContain('Moves to the left: +3.00° in 30 days, 95.0 % interval +1.50° to +6.00°');
  expect(trend('falling', -0.1)).toContain('Moves to the right: −3.00° in 30 days');
});

describe.skipIf(CHROMIUM === undefined)('the history over sessions (needs Chromium)', () => {
  let world: World;
  let page: Page;
  usePage((suite) => ({ world, page } = suite), { timezoneId: 'UTC' });

  const text = async (id: string) => (await page.getByTestId(id).first().innerText()).replace(/\s+/g, ' ');
  const answer = (over: Partial<SessionHistory>) => world.server.answers.set(PATH, historyOf(over));
  const row = (key: string) => page.locator(`[data-testid=session-row][data-id="${key}"]`);
  const mark = async (key: string) => {
    const at = page.locator(`[data-testid=plot-session][data-id="${key}"]`);
    const read = async (name: string) => Number(await at.getAttribute(`data-${name}`));
    return { x: await read('x'), y: await read('y'), from: await read('from'), to: await read('to') };
  };

  test('more on the left is drawn to the left of the plumb line, newer above older, all on one scale about zero', async () => {
    answer({ sessions: [sessionOf(0, 2), sessionOf(1, -2), sessionOf(3, 0)], annotations: [] });
    await showScene(page, world, 'history');
    await page.getByTestId('session-plot').waitFor();
    const [left, right, middle] = [await mark('h0 2.0.0'), await mark('h1 2.0.0'), await mark('h3 2.0.0')];
    expect(left.x).toBeLessThan(middle.x);
    expect(right.x).toBeGreaterThan(middle.x);
    expect(middle.x - left.x).toBeCloseTo(right.x - middle.x, 6);
    // The interval of 0.8 to each side, on the scale on which 2 lies that far from the line.
    const perUnit = (middle.x - left.x) / 2;
    expect([left.from, left.to]).toEqual([
      expect.closeTo(left.x - 0.8 * perUnit, 6),
      expect.closeTo(left.x + 0.8 * perUnit, 6),
    ]);
    expect(middle.y).toBeLessThan(right.y);
    expect(right.y).toBeLessThan(left.y);
    // 21 days against 42.
    expect((right.y - middle.y) / (left.y - right.y)).toBeCloseTo(2, 6);
  });

  test('baseline, detectable change, trend and remarks are those of the server, each with unit and n', async () => {
    await showScene(page, world, 'history');
    await page.getByTestId('history-baseline').waitFor();
    expect(await text('history-baseline')).toBe(
      '+0.6°, band −0.4° to +1.5°, n = 4 sessions (sessions before the first injury noted).',
    );
    expect(await text('history-change')).toBe('1.3°, from n = 4 sessions of this athlete.');
    // 0.02, -0.01 and 0.04 degrees a day, in 30 days.
    expect(await text('history-trend')).toBe(
      'No trend shown, which does not show that nothing changes: +0.60° in 30 days, 97.2 % interval −0.30° to +1.20°, n = 6 days with a session.',
    );
    expect(await page.getByTestId('history-remark').allInnerTexts()).toEqual(historyOf().remarks);
    expect(await page.getByTestId('plot-band').count()).toBe(1);
    expect(await page.getByTestId('plot-change').count()).toBe(1);
    expect(await page.getByTestId('cautions').count()).toBe(1);
  });

  test('what is not known is said as such and not drawn; a published default is named as one', async () => {
    answer({
      baseline: { basis: 'all but the newest session', sessions: 1, mean: null, band: null, missingSessions: 2 },
      detectableChange: { basis: 'published default', change: 4, source: 'a paper', missingSessions: 2 },
      trend: { state: 'too few sessions', sessions: 2, missingSessions: 3 },
    });
    await showScene(page, world, 'history');
    await page.getByTestId('history-baseline').waitFor();
    expect(await text('history-baseline')).toContain('Not known: n = 1 session');
    expect(await text('history-change')).toContain('4.0°: a published default, not of this athlete (a paper)');
    expect(await text('history-trend')).toBe('Not known: n = 2 days with a session that counts; it takes 3 more.');
    expect(await page.getByTestId('plot-band').count()).toBe(0);
  });

  test('sessions that count for nothing else are open marks, and the table says why', async () => {
    await showScene(page, world, 'history');
    await page.getByTestId('session-table').waitFor();
    const kinds = await page
      .getByTestId('session-row')
      .evaluateAll((rows) => rows.map((each) => `${each.dataset['id']!.split(' ')[0]} ${each.dataset['counts']}`));
    expect(kinds).toEqual(['h7 yes', 'h6 yes', 'h5 few', 'h4 yes', 'h3 yes', 'h2 yes', 'h1 yes', 'h0 version']);
    const open = await page
      .getByTestId('plot-session')
      .evaluateAll((marks) =>
        marks.filter((each) => each.querySelector('polygon.hollow')).map((each) => each.dataset['id']),
      );
    expect(open).toEqual(['h0 1.9.0', 'h5 2.0.0']);
    expect((await row('h5 2.0.0').innerText()).replace(/\s+/g, ' ')).toBe(
      '15 Jun 2026, 16:00 +4.1° more on the left +1.6° to +6.6° n 5 left, 6 right 1 trial within ±0.9° 2.0.0 no: too few stances',
    );
    expect(await row('h7 2.0.0').innerText()).toContain('not known');
    expect(await row('h6 2.0.0').innerText()).toContain('3 trials, 1 without a usable difference');
    expect(await row('h0 1.9.0').innerText()).toContain('more on the right');
  });

  test('a session whose trials two versions analysed is two entries, each with its own trials', async () => {
    const twice = [sessionOf(3, 1, { version: '1.9.0' }), sessionOf(3, 1.2)];
    answer({ sessions: twice });
    const trials = ['1.9.0', '2.0.0'].map((version, i) => ({ ...trialOf('run', i), sessionId: 'h3', version }));
    world.server.answers.set('GET /api/athletes/a1/trials', trials);
    await showScene(page, world, 'history');
    await row('h3 1.9.0').getByRole('button').click();
    const links = page.getByTestId('session-trials').getByRole('link');
    expect(await links.evaluateAll((all) => all.map((link) => link.getAttribute('href')))).toEqual(['#/trial/t1']);
  });

  test('a tap on a mark, or the button of its row, opens the trials of that session and task; closing gives the focus back', async () => {
    const of = (sessionId: string, i: number, task: 'run' | 'walk' = 'run') => ({
      ...trialOf(task, i),
      sessionId,
      version: '2.0.0',
    });
    world.server.answers.set('GET /api/athletes/a1/trials', [
      of('h2', 0),
      { ...of('h2', 1), discarded: true },
      of('h2', 2, 'walk'),
      of('h4', 3),
    ]);
    await showScene(page, world, 'history');
    const svg = page.getByTestId('session-plot').locator('svg');
    await svg.waitFor();
    const { x, y } = await mark('h4 2.0.0');
    await svg.click({ position: { x: x + 6, y: y + 5 } });
    const opened = page.getByTestId('session-trials');
    await opened.waitFor();
    expect(await opened.getAttribute('data-id')).toBe('h4');
    expect(await opened.innerText()).toContain('n 24 left, 23 right');
    expect(await opened.getByRole('link').count()).toBe(1);

    await row('h2 2.0.0').getByRole('button').press('Enter');
    await waitUntil('the other session is open', async () => (await opened.getAttribute('data-id')) === 'h2');
    const links = await opened.getByRole('link').evaluateAll((all) => all.map((link) => link.getAttribute('href')));
    expect(links).toEqual(['#/trial/t1', '#/trial/t2']);
    expect(await opened.innerText()).toContain('discarded, left out');
    expect(await page.evaluate(() => document.activeElement?.textContent)).toContain('Session of 13 Apr 2026');
    await opened.getByRole('button').click();
    await opened.waitFor({ state: 'detached' });
    expect(
      await row('h2 2.0.0')
        .getByRole('button')
        .evaluate((button) => button === document.activeElement),
    ).toBe(true);
  });

  test('task and metric asked for are those chosen, the newest trial’s task to begin with', async () => {
    const asked: string[] = [];
    page.on('request', (request) => {
      const { pathname, search } = new URL(request.url());
      if (pathname.endsWith('session-history')) asked.push(search);
    });
    world.server.answers.set('GET /api/athletes/a1/trials', [
      trialOf('stand', 3),
      trialOf('strides', 2),
      trialOf('run', 1),
    ]);
    await showScene(page, world, 'history');
    await waitUntil('strides were asked for', () => asked.includes('?task=strides&metric=swingSideDropDeg'));
    await page.getByTestId('months-task').selectOption('walk');
    await page.getByTestId('metric-select').selectOption('contactTimeS');
    await waitUntil('the walk was asked for', () => asked.includes('?task=walk&metric=contactTimeS'));
    // The server goes on telling of the run: it does not stand under the choice of the walk.
    await page.getByTestId('annotations').waitFor();
    expect(await page.getByTestId('months').count()).toBe(0);
    answer({ task: 'walk', metric: 'contactTimeS' });
    await page.getByRole('heading', { name: 'Contact time: Walk, session by session' }).waitFor();
    world.server.answers.delete(PATH);
    await page.getByTestId('months-task').selectOption('run');
    await page.getByText(`The mock has no answer for ${PATH.slice(4)}.`).waitFor();
    expect(await page.getByTestId('months').count()).toBe(0);
    expect(await page.getByTestId('annotation').count()).toBe(3);
  });

  test('no session, no answer and an error are said in words; the list of trials stays', async () => {
    answer({ sessions: [], versions: [], annotations: [], remarks: [] });
    await showScene(page, world, 'history');
    await page.getByText('No session to show').waitFor();
    world.server.answers.delete(PATH);
    await page.reload();
    await page.getByText(`The mock has no answer for ${PATH.slice(4)}.`).waitFor();
    await page.getByTestId('history-row').first().waitFor();
    let release = (): void => undefined;
    await page.route('**/session-history?*', async (route) => {
      await new Promise<void>((done) => (release = done));
      await route.fulfill({ json: historyOf() });
    });
    await page.reload();
    // The list of trials is there, so what still loads is the sessions.
    await page.getByTestId('history-row').first().waitFor();
    await page.getByText('Loading …').waitFor();
    release();
    await page.getByTestId('session-plot').waitFor();
    expect(await page.getByTestId('plot-session').count()).toBe(SESSIONS.length);
  });

  test('an entry is marked at its time between the sessions, with its number in the list', async () => {
    await showScene(page, world, 'history');
    const notes = page.getByTestId('plot-note');
    await notes.first().waitFor();
    expect((await notes.allTextContents()).map((each) => each.trim())).toEqual(['3', '2', '1']);
    const injury = notes.filter({ hasText: '2' });
    const y = Number(await injury.getAttribute('data-y'));
    // Day 95 lies between the sessions of day 84 and day 105.
    expect(y).toBeLessThan((await mark('h4 2.0.0')).y);
    expect(y).toBeGreaterThan((await mark('h5 2.0.0')).y);
    expect(await injury.evaluate((each) => each.classList.contains('strong'))).toBe(true);
    expect(FIRST_UTC_MS + 84 * DAY_MS).toBe(SESSIONS[4]!.utcMs);
  });
});
