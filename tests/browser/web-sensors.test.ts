/** The sensors page over the real server: from a sensor that is refused to one that is let in, and back. */
import { fileURLToPath } from 'node:url';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { KnownSensor } from '../../shared/src/index.ts';
import { knock } from '../support/knock.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';

const DIST = fileURLToPath(new URL('../../web/dist', import.meta.url));
const NOT_ENROLLED = 4041;
const TOUCH_PX = 48;

describe.skipIf(CHROMIUM === undefined)('the sensors page (needs Chromium)', () => {
  let server: TestPostgres;
  let api: TestApp;
  let browser: Browser;
  let page: Page;

  beforeAll(async () => {
    server = await startTestPostgres();
    api = await startTestApp(await server.newDatabase(), { webDir: DIST });
    browser = await launchChromium();
    page = await browser.newPage({ viewport: { width: 1024, height: 768 } });
    await page.goto(`${api.url}/#/sensors`);
  }, 60_000);
  afterAll(async () => {
    await browser?.close();
    await api?.close();
    await server?.stop();
  });

  const row = (deviceId: string): Locator => page.locator(`[data-testid=sensor-row][data-id="${deviceId}"]`);
  const shown = (deviceId: string): Locator => page.locator(`[data-testid=token][data-id="${deviceId}"]`);
  const refused = (deviceId: string): Locator => page.locator(`[data-testid=refused][data-id="${deviceId}"]`);
  const state = (deviceId: string): Locator => row(deviceId).getByTestId('enrolment');
  const isEnrolled = (deviceId: string) =>
    waitUntil('the row says so', async () => (await state(deviceId).getAttribute('data-enrolled')) === 'true');
  const tokenOf = (deviceId: string): Promise<string> => shown(deviceId).getByLabel('Token').inputValue();
  const answer = async (deviceId: string, token?: string) => {
    const device = knock(api.socketUrl, deviceId, token);
    const answered = await device.answered();
    device.leave();
    return answered;
  };

  test('lists a sensor that was refused, and enrols it with a token that lets it in', async () => {
    await page.getByText('No sensor is enrolled yet').waitFor();
    expect(await answer('stranger')).toBe(NOT_ENROLLED);
    const line = refused('stranger');
    await line.getByText(/A sensor that calls itself stranger was refused: it is not enrolled/).waitFor();
    await line.getByRole('button', { name: 'Enrol: stranger' }).click();
    await isEnrolled('stranger');
    await line.waitFor({ state: 'detached' });
    const token = await tokenOf('stranger');
    expect(token).toMatch(/^[0-9a-f]{64}$/);
    // The token is announced: the focus is on its heading.
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Token of stranger');
    expect(await answer('stranger', token)).toBe('welcome');
  });

  test('shows the token until it is put away, and then nowhere', async () => {
    const token = await tokenOf('stranger');
    await shown('stranger').getByRole('button', { name: 'It is in the sensor, hide it' }).click();
    await shown('stranger').waitFor({ state: 'detached' });
    await page.reload();
    await isEnrolled('stranger');
    expect(await page.content()).not.toContain(token);
  });

  test('enrols a sensor by its name, with the keyboard alone', async () => {
    await page.getByLabel('Name that the sensor sends').focus();
    await page.keyboard.type('by hand');
    await page.keyboard.press('Enter');
    await page.getByText(/deviceId may hold letters, digits/).waitFor();
    await page.getByLabel('Name that the sensor sends').fill('by-hand');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
    await isEnrolled('by-hand');
    expect(await answer('by-hand', await tokenOf('by-hand'))).toBe('welcome');
  });

  test('asks twice before it cuts a sensor off, and does not do it from the form', async () => {
    const token = await tokenOf('by-hand');
    await page.getByLabel('Name that the sensor sends').fill('by-hand');
    await page.getByRole('button', { name: 'Enrol', exact: true }).click();
    await page.getByText(/by-hand is enrolled\. If its token is lost/).waitFor();
    await state('by-hand').getByRole('button', { name: 'New token: by-hand' }).click();
    await page.keyboard.press('Enter');
    expect(await answer('by-hand', token)).toBe('welcome');
    const back = () => page.evaluate(() => document.activeElement?.getAttribute('aria-label'));
    expect(await back()).toBe('New token: by-hand');

    await page.keyboard.press('Enter');
    await state('by-hand').getByRole('button', { name: 'Yes, new token' }).click();
    await waitUntil('another token is shown', async () => (await tokenOf('by-hand')) !== token);
    expect(await answer('by-hand', token)).toBe(NOT_ENROLLED);
    await refused('by-hand')
      .getByText(/it sent a wrong token/)
      .waitFor();

    await state('by-hand').getByRole('button', { name: 'Revoke: by-hand' }).click();
    await state('by-hand').getByRole('button', { name: 'Yes, revoke' }).click();
    await state('by-hand').getByText('not enrolled: the server takes nothing from it').waitFor();
    expect(await shown('by-hand').count()).toBe(0);
    const known = await api.call<KnownSensor[]>('GET', '/api/sensors');
    expect(known.map(({ deviceId, enrolled }) => [deviceId, enrolled])).toEqual([
      ['by-hand', false],
      ['stranger', true],
    ]);
    await waitUntil('the focus is back in the row', async () => (await back()) === 'Enrol: by-hand');
  });

  test('has targets that a wet finger hits', async () => {
    await state('by-hand').getByRole('button', { name: 'Enrol: by-hand' }).click();
    await shown('by-hand').waitFor();
    for (const target of await page.locator('main button, main input, main select').all()) {
      const box = await target.boundingBox();
      expect(box?.height, await target.innerText()).toBeGreaterThanOrEqual(TOUCH_PX);
    }
    await page.setViewportSize({ width: 390, height: 800 });
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
  });
});
