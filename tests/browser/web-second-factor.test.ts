/** Signing in with one-time codes, one's own sign-ins, and a page that is left alone: in the browser, on the whole server. */
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import { SIGN_IN_IDLE_MS } from '../../shared/src/index.ts';
import { STEP_S, stepOf } from '../../server/src/access/one-time-code.ts';
import { PASSWORD, newPerson, newAthleteOf } from '../support/people.ts';
import { codeOf } from '../support/phone.ts';
import { waitUntil } from '../support/wait-until.ts';
import { useAccessSuite, type AccessSuite } from './access-suite.ts';
import { CHROMIUM } from './chromium.ts';

const TEST_LIMIT_MS = 120_000;

/** The app on the phone: a code that it has not shown before. */
function phoneWith(key: string) {
  let shown = 0;
  return async (): Promise<string> => {
    // One ahead is taken as well: so a test waits for one step at most.
    const step = Math.max(stepOf(Date.now()), shown + 1);
    await waitUntil('the code is good', () => stepOf(Date.now()) + 1 >= step || null, STEP_S * 1000 + 5000);
    shown = step;
    return codeOf(key, step);
  };
}

describe.skipIf(CHROMIUM === undefined)('one’s own account (needs Chromium)', { timeout: TEST_LIMIT_MS }, () => {
  let suite: AccessSuite;
  let coach: Awaited<ReturnType<typeof newPerson>>;
  let athleteId = '';
  useAccessSuite((started) => void (suite = started));
  beforeAll(async () => {
    coach = await newPerson({ database: suite.database, url: suite.api.url }, ['coach']);
    athleteId = await newAthleteOf(coach, 'Mira Sand');
  });
  const account = async (): Promise<Page> => {
    const page = await suite.open('#/account');
    await suite.signIn(page, coach.account.login);
    await page.getByTestId('own-sign-in').first().waitFor();
    return page;
  };

  test('shows where one is signed in, and ends the others', async () => {
    const left = await account();
    const page = await account();
    const rows = page.getByTestId('own-sign-in');
    const before = await rows.count();
    expect(before).toBeGreaterThanOrEqual(2);
    expect(await page.locator('[data-testid=own-sign-in][data-this=true]').innerText()).toMatch(
      /Chrome, Linux[^]*This one/,
    );
    await page.getByTestId('own-sign-in-end').first().getByRole('button').click();
    await waitUntil('one is gone', async () => (await rows.count()) === before - 1 || null);
    await page.getByTestId('own-sign-ins-end').getByRole('button').click();
    await waitUntil('this one is left', async () => (await rows.count()) === 1 || null);
    await left.goto(`${suite.api.url}/#/`);
    await left.getByTestId('sign-in').waitFor();
  });

  test('gets one-time codes by a key that is shown once; from then on signing in asks for one', async () => {
    const page = await account();
    await page.getByTestId('second-factor-open').click();
    const form = page.getByTestId('second-factor');
    await form.getByLabel('Password that you have now').fill('not the password');
    await form.getByRole('button', { name: 'Show the key' }).click();
    await form.getByText('do not belong together').waitFor();
    await form.getByLabel('Password that you have now').fill(PASSWORD);
    await form.getByRole('button', { name: 'Show the key' }).click();
    const key = (await page.getByTestId('second-factor-key').innerText()).replaceAll(' ', '');
    const nextCode = phoneWith(key);
    expect(await page.getByRole('img', { name: /picture for the camera/ }).boundingBox()).toMatchObject({ width: 256 });
    await form.getByRole('textbox', { name: 'One-time code' }).fill('000 000');
    await form.getByRole('button', { name: 'Turn them on' }).click();
    await form.getByText('not the one that the app shows').waitFor();
    const first = await nextCode();
    await form.getByRole('textbox', { name: 'One-time code' }).fill(`${first.slice(0, 3)} ${first.slice(3)}`);
    await form.getByRole('button', { name: 'Turn them on' }).click();
    await page.locator('[data-testid=second-factor][data-on=true]').waitFor();
    expect(await page.content()).not.toContain(key);

    const other = await suite.open(`#/consent/${athleteId}`);
    await suite.signIn(other, coach.account.login);
    const code = other.getByRole('textbox', { name: 'One-time code' });
    await code.waitFor();
    expect(await code.getAttribute('autocomplete')).toBe('one-time-code');
    expect(await code.evaluate((field) => field === document.activeElement)).toBe(true);
    await code.fill(first);
    await code.press('Enter');
    await other.getByText('This code has been used').waitFor();
    expect(await code.inputValue()).toBe('');
    await code.fill(await nextCode());
    await code.press('Enter');
    await other.getByTestId('consent').waitFor();

    await page.getByTestId('second-factor-open').click();
    await form.getByLabel('Password that you have now').fill(PASSWORD);
    await form.getByRole('textbox', { name: 'One-time code' }).fill(await nextCode());
    await form.getByRole('button', { name: 'Turn them off' }).click();
    await page.locator('[data-testid=second-factor][data-on=false]').waitFor();
  });

  test('is taken down when the page has asked for nothing for as long as a sign-in lasts, and not before', async () => {
    const page = await suite.open();
    await page.clock.install();
    await suite.signIn(page, coach.account.login);
    await page.getByText('Mira Sand').first().waitFor();
    await page.goto(`${suite.api.url}/#/consent/${athleteId}`);
    await page.getByTestId('consent').waitFor();
    const asked: string[] = [];
    page.on('request', (request) => void asked.push(request.url()));
    await page.clock.fastForward(SIGN_IN_IDLE_MS - 60_000);
    expect(await page.getByTestId('consent').count()).toBe(1);
    await page.clock.fastForward(90_000);
    await page.getByTestId('sign-in').waitFor();
    expect(await page.content()).not.toContain('Mira');
    // Asking whether it is over would have made it last.
    expect(asked.filter((url) => url.includes('/api/'))).toEqual([]);
  });
});
