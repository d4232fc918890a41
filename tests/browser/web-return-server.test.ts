/** A return episode in the browser against the whole server: from the onset to the decision on paper. */
import { fileURLToPath } from 'node:url';
import type { AthleteSummary, ReturnDecision, ReturnEpisode, ReturnEpisodeView } from '@ambipede/shared';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { storeSession } from '../support/stored-sessions.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';

const WEB_DIR = fileURLToPath(new URL('../../web/dist', import.meta.url));
const NOW = new Date(2026, 5, 20, 12).getTime();
const day = (date: number): number => new Date(2026, 5, date, 9).getTime();
const DECISION = {
  deciderName: 'Ada Brook',
  decision: 'Half the run-up, twice a week.',
  reason: 'No pain in three weeks.',
};

describe.skipIf(CHROMIUM === undefined)('a return episode on the whole server (needs Chromium)', () => {
  let postgres: TestPostgres;
  let api: TestApp;
  let browser: Browser;
  let page: Page;
  let athleteId: string;

  beforeAll(async () => {
    postgres = await startTestPostgres();
    const database = await postgres.newDatabase();
    api = await startTestApp(database, { webDir: WEB_DIR, nowUtcMs: () => NOW });
    ({ id: athleteId } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Mira Sand' }, 201));
    const run = (difference: number) => [{ task: 'run', difference, placementUncertainty: 1 }] as const;
    for (const [i, difference] of [0.5, 1, 1.5].entries())
      await storeSession(database, athleteId, day(i + 1), run(difference));
    await storeSession(database, athleteId, day(15), run(9));
    browser = await launchChromium();
    page = await (await browser.newContext({ serviceWorkers: 'block' })).newPage();
  });
  afterAll(async () => {
    await browser?.close();
    await api?.close();
    await postgres?.stop();
  });

  test('is made, given a criterion, decided on and printed; the server keeps what was typed', async () => {
    const problems: string[] = [];
    page.on('pageerror', (error) => problems.push(error.message));
    page.on('console', (message) => message.type() === 'error' && problems.push(message.text()));
    await page.goto(`${api.url}/#/history/${athleteId}`);
    await page.getByRole('link', { name: 'Return' }).click();
    await page.getByText('No return episode yet').waitFor();
    await page.getByTestId('new-episode').click();
    await page.getByLabel('Onset').fill('2026-06-10');
    await page.getByRole('radio', { name: 'Left' }).check();
    await page.getByLabel('Question to be decided').fill('Full run-up?');
    await page.getByText('Save', { exact: true }).click();

    await page.getByTestId('add-criterion').click();
    await page.getByLabel('Limit, plus or minus, in °').fill('4');
    await page.getByText('Save', { exact: true }).click();
    await page.locator('[data-testid=criterion][data-state=outside]').waitFor();
    expect(await page.getByTestId('baseline').innerText()).toContain('3 sessions before the onset: +1.0°');
    expect(await page.getByTestId('return-session').innerText()).toContain(
      '8.0° more on the left than before the onset',
    );

    await page.getByLabel('Your name').fill(DECISION.deciderName);
    await page.getByLabel('What you decided, in your own words').fill(DECISION.decision);
    await page.getByLabel('Why', { exact: true }).fill(DECISION.reason);
    await page.getByText('Record the decision').click();
    await page.getByTestId('decision').waitFor();

    const list = `/api/athletes/${athleteId}/return-episodes`;
    const [episode] = await api.call<ReturnEpisode[]>('GET', list);
    const onsetUtcMs = new Date(2026, 5, 10).getTime();
    expect(episode).toMatchObject({ onsetUtcMs, affectedSide: 'left', question: 'Full run-up?' });
    const { criteria, decisions } = await api.call<ReturnEpisodeView>('GET', `${list}/${episode!.id}`);
    expect(criteria).toMatchObject([{ task: 'run', metric: 'swingSideDropDeg', limit: 4, sessionsInARow: 1 }]);
    expect(decisions).toMatchObject([{ ...DECISION, decidedUtcMs: NOW } satisfies Partial<ReturnDecision>]);

    await page.getByTestId('to-report').click();
    await page.getByTestId('report').waitFor();
    expect(await page.getByTestId('stood').innerText()).toMatch(
      /within ±4°, the newest session: Outside the limit; change/,
    );
    for (const text of ['Outside the limit', DECISION.decision, DECISION.reason])
      expect(await page.getByTestId('report').innerText()).toContain(text);
    expect(problems).toEqual([]);
  });
});
