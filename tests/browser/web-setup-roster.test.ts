/** The athletes page over the real server: what is typed, refused, stored and changed. */
import { fileURLToPath } from 'node:url';
import { BODY_MASS_KG_MAX, BODY_MASS_KG_MIN, type AthleteSummary } from '@ambipede/shared';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';
import { changeOf, detailsOf, draftOf, problemsOf } from '../../web/src/roster/athlete-draft.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';

const DIST = fileURLToPath(new URL('../../web/dist', import.meta.url));
const TOUCH_PX = 48;

describe('an athlete’s details as typed', () => {
  const typed = (bodyMass: string) => ({ ...draftOf(null), name: 'Tove Arden', bodyMass });

  test('take a body mass with a point or a comma, up to the limits and not past them', () => {
    expect(['62.5', ' 62,5 '].map((text) => detailsOf(typed(text)).bodyMassKg)).toEqual([62.5, 62.5]);
    for (const kg of [BODY_MASS_KG_MIN, BODY_MASS_KG_MAX]) expect(problemsOf(typed(String(kg)))).toEqual({});
    for (const kg of [BODY_MASS_KG_MIN - 0.1, BODY_MASS_KG_MAX + 0.1, 0]) {
      expect(problemsOf(typed(String(kg))).bodyMass).toContain('15 to 250');
    }
    for (const text of ['sixty', '1e2', '-60', '6 0', '0x40']) {
      expect(problemsOf(typed(text)).bodyMass, text).toContain('is not a number');
    }
  });

  test('keep the unknown unknown: an empty body mass is null', () => {
    expect(problemsOf(typed('  '))).toEqual({});
    expect(detailsOf(typed('  '))).toMatchObject({ bodyMassKg: null, dominantHand: null, preferredTakeOffFoot: null });
  });

  test('send only what was changed', () => {
    const before = detailsOf(typed('60'));
    expect(changeOf(before, { ...before })).toBeNull();
    expect(changeOf(before, { ...before, bodyMassKg: null, preferredTakeOffFoot: 'left' })).toEqual({
      bodyMassKg: null,
      preferredTakeOffFoot: 'left',
    });
  });
});

describe.skipIf(CHROMIUM === undefined)('the athletes page (needs Chromium)', () => {
  let server: TestPostgres;
  let api: TestApp;
  let browser: Browser;
  let page: Page;

  beforeAll(async () => {
    server = await startTestPostgres();
    api = await startTestApp(await server.newDatabase(), { webDir: DIST });
    browser = await launchChromium();
    page = await browser.newPage({ viewport: { width: 390, height: 844 } });
    await page.goto(`${api.url}/#/`);
  }, 60_000);
  afterAll(async () => {
    await browser?.close();
    await api?.close();
    await server?.stop();
  });

  const form = (): Locator => page.getByTestId('athlete-form');
  const stored = async () => (await api.call<AthleteSummary[]>('GET', '/api/athletes'))[0];

  test('says what is wrong beside its field, and moves there', async () => {
    await page.getByTestId('athlete-add').click();
    await form().getByLabel('Body mass in kg').fill('700');
    await form().getByRole('button', { name: 'Add athlete' }).click();
    await form().getByText('Type a name.').waitFor();
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('new-athlete-name');
    const mass = form().getByLabel('Body mass in kg');
    expect(await mass.getAttribute('aria-invalid')).toBe('true');
    const described = (await mass.getAttribute('aria-describedby'))?.split(' ') ?? [];
    expect(await page.locator(`#${described.at(-1)}`).innerText()).toContain('15 to 250 kg');
    expect(await stored()).toBeUndefined();
  });

  test('adds an athlete with what is known, and nothing else', async () => {
    await form().getByLabel('Name', { exact: true }).fill('Tove Arden');
    await form().getByLabel('Body mass in kg').fill('');
    await form().getByRole('button', { name: 'Add athlete' }).click();
    await page.getByRole('heading', { name: 'Tove Arden' }).waitFor();
    expect(await stored()).toMatchObject({
      name: 'Tove Arden',
      bodyMassKg: null,
      dominantHand: null,
      preferredTakeOffFoot: null,
      notes: '',
    });
    expect(await page.getByTestId('athlete-facts').count()).toBe(0);
    expect(await page.getByTestId('both-ready').innerText()).toBe('Sensors not ready');
  });

  test('changes what is changed, though the list is refreshed under the form', async () => {
    await page.getByTestId('athlete-edit').click();
    await form().getByLabel('Body mass in kg').fill('62,5');
    await form().getByRole('group', { name: 'Dominant hand' }).getByRole('radio', { name: 'Both' }).check();
    await form().getByRole('group', { name: 'Preferred take-off foot' }).getByRole('radio', { name: 'Left' }).check();
    // Somebody else writes a note meanwhile; the page hears of it before the form is saved.
    const id = (await stored())!.id;
    const heard = page.waitForResponse(async (answer) => (await answer.text()).includes('sore heel'));
    await api.call('PATCH', `/api/athletes/${id}`, { notes: 'sore heel' });
    await heard;
    expect(await form().getByLabel('Body mass in kg').inputValue()).toBe('62,5');
    for (const target of await form().locator('button, input[type=text], textarea, label:has(input)').all()) {
      expect((await target.boundingBox())?.height, await target.innerText()).toBeGreaterThanOrEqual(TOUCH_PX);
    }
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
    await form().getByRole('button', { name: 'Save' }).click();
    await page.getByText('62.5 kg · uses both hands · takes off left').waitFor();
    expect(await stored()).toMatchObject({
      bodyMassKg: 62.5,
      dominantHand: 'both',
      preferredTakeOffFoot: 'left',
      notes: 'sore heel',
    });
    await waitUntil('the focus is back on the button', () =>
      page.evaluate(() => document.activeElement?.getAttribute('data-testid') === 'athlete-edit'),
    );
  });

  test('takes a value back to unknown', async () => {
    await page.getByTestId('athlete-edit').click();
    await form().getByLabel('Body mass in kg').fill('');
    await form().getByRole('group', { name: 'Dominant hand' }).getByRole('radio', { name: 'Not known' }).check();
    await form().getByRole('button', { name: 'Save' }).click();
    await form().waitFor({ state: 'detached' });
    expect(await stored()).toMatchObject({ bodyMassKg: null, dominantHand: null, preferredTakeOffFoot: 'left' });
  });
});
