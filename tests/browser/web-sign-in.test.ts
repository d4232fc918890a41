/** Signing in and out on the whole server: what is asked, what is said, and that nothing of anybody is left behind. */
import { readFile } from 'node:fs/promises';
import type { AthleteSummary } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import { makeFirstKeeper } from '../../server/src/access/first-keeper.ts';
import { PASSWORD, Person, newAthleteOf, newPerson } from '../support/people.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { waitUntil } from '../support/wait-until.ts';
import { MARKUP, useAccessSuite, watch, type AccessSuite } from './access-suite.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';

const ATHLETE = 'Mira Sand';
/** Of the server: so many may fail before anybody waits (server/src/access/attempts.ts). */
const FAILURES_FREE = 5;

describe.skipIf(CHROMIUM === undefined)('signing in (needs Chromium)', () => {
  let suite: AccessSuite;
  let firstPassword: string;
  let coach: Awaited<ReturnType<typeof newPerson>>;
  let athleteId: string;
  useAccessSuite((started) => void (suite = started));
  beforeAll(async () => {
    const { api, database } = suite;
    const folder = await makeTempDir();
    const file = await makeFirstKeeper(database.db, folder.folder, Date.now());
    firstPassword = (await readFile(file!, 'utf8')).trim();
    await folder.remove();
    coach = await newPerson({ database, url: api.url }, ['coach']);
    athleteId = await newAthleteOf(coach, ATHLETE);
  });

  const signInPage = (page: Page) => page.getByTestId('sign-in');
  const left = (page: Page) =>
    page.evaluate(async () => {
      const names = await caches.keys();
      const kept = await Promise.all(
        names.map(async (name) => {
          const store = await caches.open(name);
          const answers = await Promise.all((await store.keys()).map((key) => store.match(key)));
          return Promise.all(answers.map((answer) => answer!.text()));
        }),
      );
      return [document.documentElement.outerHTML, ...Object.values(localStorage), ...kept.flat(2)].join('\n');
    });

  test('asks a stranger for login and password before anything else is shown, in fields that a password manager knows', async () => {
    const page = await suite.open(`#/live/${athleteId}`);
    await signInPage(page).waitFor();
    expect(await page.getByLabel('Login').getAttribute('autocomplete')).toBe('username');
    const password = page.getByLabel('Password', { exact: true });
    expect(await password.getAttribute('autocomplete')).toBe('current-password');
    expect(await password.getAttribute('type')).toBe('password');
    expect(await page.getByRole('navigation').getByRole('link').count()).toBe(0);
    // Pasting is what a password manager without autocomplete is left with (ASVS 4.0.3, 2.1.11).
    const pasted = await password.evaluate((field) =>
      field.dispatchEvent(new ClipboardEvent('paste', { bubbles: true, cancelable: true })),
    );
    expect(pasted).toBe(true);
    await password.fill('shown on demand');
    await page.getByLabel('Show the password').check();
    expect(await password.getAttribute('type')).toBe('text');
  });

  test('says in the server’s words that login and password do not belong together, and shows markup as text', async () => {
    const page = await suite.open();
    await suite.signIn(page, MARKUP, 'no such password');
    await page.getByRole('alert').getByText('Login and password do not belong together').waitFor();
    expect(await page.getByLabel('Login').inputValue()).toBe(MARKUP);
    expect(await page.locator('img').count()).toBe(0);
  });

  test('tells how long to wait after too many failures', async () => {
    const { account } = await newPerson({ database: suite.database, url: suite.api.url }, ['coach']);
    const guesser = new Person(suite.api.url);
    for (let i = 0; i < FAILURES_FREE; i++) await guesser.signIn(account.login, 'guessed wrongly');
    const page = await suite.open();
    await suite.signIn(page, account.login);
    const said = await page.getByRole('alert').getByText('Too many sign-ins').innerText();
    expect(Number(/Wait (\d+) s/.exec(said)?.[1])).toBeGreaterThan(0);
    await signInPage(page).waitFor();
  });

  test('the first keeper has to take a password of their own, by length alone, and goes on where the page was', async () => {
    const page = await suite.open('#/accounts');
    await suite.signIn(page, 'keeper', firstPassword);
    await page.getByTestId('first-password').waitFor();
    expect(await page.getByTestId('accounts').count()).toBe(0);
    const next = page.getByLabel('New password', { exact: true });
    expect(await next.getAttribute('autocomplete')).toBe('new-password');
    await page.getByLabel('Password that was given to you').fill(firstPassword);
    await next.fill('elevenchars');
    await page.getByLabel('New password again').fill('elevenchars');
    await page.getByTestId('password-form').locator('button.main').click();
    await page.getByText('Too short: 1 more character.').first().waitFor();
    await next.fill(PASSWORD);
    await page.getByText('Long enough').waitFor();
    await page.getByLabel('New password again').fill(PASSWORD);
    await page.getByTestId('password-form').locator('button.main').click();
    await page.getByTestId('accounts').waitFor();
    expect(new URL(page.url()).hash).toBe('#/accounts');
  });

  test('a sign-in that ends elsewhere ends here: sign-in page, nothing left, and back to the same page', async () => {
    const hash = `#/history/${athleteId}`;
    const page = await suite.open(hash);
    await suite.signIn(page, coach.account.login);
    await page.getByRole('heading', { name: ATHLETE }).waitFor();
    await page.evaluate(() => localStorage.setItem('ambipede.trial-draft.t1', '{"note":"knee hurts"}'));
    // On another device the password is changed: every other sign-in ends.
    const elsewhere = new Person(suite.api.url);
    await elsewhere.signIn(coach.account.login);
    const newPassword = 'gravel, chalk, seven lanes';
    await elsewhere.call('POST', '/api/me/password', { password: PASSWORD, newPassword });
    await signInPage(page).waitFor();
    await page.getByText('You are signed out. Sign in to go on where you were.').waitFor();
    const rest = await left(page);
    for (const trace of [ATHLETE, 'knee hurts', coach.account.name]) expect(rest).not.toContain(trace);
    expect(await page.title()).toBe('Sign in · Ambipede');
    await suite.signIn(page, coach.account.login, newPassword);
    await page.getByRole('heading', { name: ATHLETE }).waitFor();
    expect(new URL(page.url()).hash).toBe(hash);

    await page.goto(`${suite.api.url}/#/live/${athleteId}`);
    await page.locator('[data-testid=live-area][data-stale=false]').waitFor();
    await elsewhere.call('POST', '/api/me/password', { password: newPassword, newPassword: PASSWORD });
    await signInPage(page).waitFor();
    expect(await page.getByTestId('live-area').count()).toBe(0);
    // Somebody else at the same tablet, at the address that the first one left: what they may not know is not there.
    const stranger = await newPerson({ database: suite.database, url: suite.api.url }, ['coach']);
    await suite.signIn(page, stranger.account.login);
    await page.getByTestId('not-allowed').getByText('This athlete is not on your list.').waitFor();
    expect(await left(page)).not.toContain(ATHLETE);
  });

  test('signing out leaves nothing on screen, in the browser’s stores or in the service worker’s cache, and the cookie is worth nothing', async () => {
    const page = await suite.open();
    await suite.signIn(page, coach.account.login);
    await page.getByText(ATHLETE).first().waitFor();
    await page.evaluate(async () => void (await navigator.serviceWorker.ready));
    const before = await page.context().cookies();
    await page.getByRole('link', { name: /^Your account/ }).click();
    await page.getByTestId('account-name').getByText(coach.account.name).waitFor();
    await page.getByTestId('sign-out').click();
    await signInPage(page).waitFor();
    expect(new URL(page.url()).hash).toBe('#/');
    const rest = await left(page);
    for (const trace of [ATHLETE, coach.account.name]) expect(rest).not.toContain(trace);
    const old = new Person(suite.api.url);
    old.cookie = before.map(({ name, value }) => `${name}=${value}`).join('; ');
    expect((await old.ask<AthleteSummary[]>('GET', '/api/athletes')).status).toBe(401);
    await page.goBack();
    await signInPage(page).waitFor();
    expect(await left(page)).not.toContain(ATHLETE);
  });

  test('the watch of these tests does tell of an inline style and an inline script', async () => {
    const told: string[] = [];
    const browser = await launchChromium();
    const page = await browser.newPage();
    await watch(page, told);
    await page.goto(suite.api.url);
    await page.evaluate((markup) => {
      document.body.insertAdjacentHTML('beforeend', `<p style="color: red">${markup}</p>`);
    }, MARKUP);
    for (const kind of ['style-src', 'script-src'])
      await waitUntil(`${kind} is told of`, () => told.some((each) => each.startsWith(kind)));
    expect(told).not.toContain('script ran');
    await browser.close();
  });
});
