/** What a keeper does in the browser on the whole server: accounts, carers, audit, retention, pairing, erasure. */
import type { AthleteSummary, AuditEntry, SessionView } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import { Person, newAthleteOf, newPerson } from '../support/people.ts';
import { waitUntil } from '../support/wait-until.ts';
import { MARKUP, useAccessSuite, type AccessSuite } from './access-suite.ts';
import { CHROMIUM } from './chromium.ts';

const TEST_LIMIT_MS = 90_000;
const ATHLETE = `Mira ${MARKUP} Sand`;

type Signed = Awaited<ReturnType<typeof newPerson>>;

describe.skipIf(CHROMIUM === undefined)('the pages of a keeper (needs Chromium)', { timeout: TEST_LIMIT_MS }, () => {
  let suite: AccessSuite;
  let keeper: Signed;
  let coach: Signed;
  let keepersPage: Page;
  let athleteId = '';
  useAccessSuite((started) => void (suite = started));
  const person = (...roles: Parameters<typeof newPerson>[1]) =>
    newPerson({ database: suite.database, url: suite.api.url }, roles);

  beforeAll(async () => {
    keeper = await person('keeper');
    coach = await person('coach');
    athleteId = await newAthleteOf(coach, ATHLETE);
    keepersPage = await suite.open('#/accounts');
    await suite.signIn(keepersPage, keeper.account.login);
    await keepersPage.getByTestId('accounts').waitFor();
  });

  const row = (login: string) => keepersPage.locator(`[data-testid=account-row][data-login="${login}"]`);

  test('a keeper closes and opens an account, and gives a new password, each of which ends the sign-ins', async () => {
    const { login } = coach.account;
    const coachsPage = await suite.open(`#/consent/${athleteId}`);
    await suite.signIn(coachsPage, login);
    await coachsPage.getByTestId('consent').waitFor();
    const close = row(login).getByTestId('account-close');
    await close.getByRole('button').click();
    await row(login).getByRole('button', { name: 'Leave it as it is' }).click();
    await coachsPage.getByTestId('consent').waitFor();
    await close.getByRole('button').click();
    await row(login).getByRole('button', { name: 'Yes, close' }).click();
    await row(login)
      .getByText(/cannot sign in/)
      .waitFor();
    await coachsPage.goto(`${suite.api.url}/#/`);
    await coachsPage.getByTestId('sign-in').waitFor();
    expect(await coachsPage.content()).not.toContain('Mira');
    await suite.signIn(coachsPage, login);
    await coachsPage.getByText('Login and password do not belong together').waitFor();
    await row(login).getByTestId('account-reopen').getByRole('button').click();
    await row(login).getByTestId('account-password').getByRole('button').click();
    await row(login).getByRole('button', { name: 'Yes, new password' }).click();
    const first = await keepersPage.getByLabel('First password').inputValue();
    await suite.signIn(coachsPage, login, first);
    await coachsPage.getByTestId('first-password').waitFor();
    const ownRow = row(keeper.account.login);
    await ownRow.getByTestId('account-close').getByRole('button').click();
    await ownRow.getByRole('button', { name: 'Yes, close' }).click();
    await ownRow.getByRole('alert').getByText('It is the only open account of a keeper').waitFor();
  });

  test('a keeper says who cares; whoever is removed loses the open page', async () => {
    const physio = await person('physio');
    const physiosPage = await suite.open();
    await suite.signIn(physiosPage, physio.account.login);
    await physiosPage.getByText('Nobody here yet').waitFor();
    await keepersPage.goto(`${suite.api.url}/#/consent/${athleteId}`);
    await keepersPage.getByTestId('carer-choice').selectOption(physio.account.id);
    await keepersPage.getByTestId('carer-add').click();
    const carer = keepersPage.getByTestId('carer').filter({ hasText: physio.account.name });
    await carer.waitFor();
    await physiosPage.getByRole('heading', { name: ATHLETE }).waitFor();
    await carer.getByRole('button').click();
    await carer.waitFor({ state: 'detached' });
    await physiosPage.getByText('Nobody here yet').waitFor();
  });

  test('the audit says who did what, newest first, and marks what was refused by a word', async () => {
    await keepersPage.goto(`${suite.api.url}/#/audit`);
    const entries = keepersPage.getByTestId('audit-entry');
    await entries.first().waitFor();
    const written = await keeper.call<AuditEntry[]>('GET', '/api/audit');
    const refused = written.filter(({ refusedStatus }) => refusedStatus !== null);
    expect(refused.length).toBeGreaterThan(0);
    const last = refused[0]!;
    await entries.getByText(`REFUSED (${last.refusedStatus})`).first().waitFor();
    const whom = written.filter((each) => each.athleteId === athleteId).length;
    await keepersPage.getByTestId('audit-filter').selectOption(athleteId);
    await waitUntil('only those about the athlete are listed', async () => {
      const about = await entries.locator('td:last-child').allInnerTexts();
      return about.length >= Math.min(whom, 1) && about.every((text) => text === ATHLETE);
    });
  });

  test('a shorter retention is warned of before it is set', async () => {
    await keepersPage.goto(`${suite.api.url}/#/retention`);
    const now = keepersPage.getByTestId('retention-now');
    await now.getByText('kept until somebody erases them').waitFor();
    await keepersPage.getByRole('radio', { name: 'For some months' }).check();
    const save = keepersPage.getByTestId('retention-form').locator('button.main');
    for (const wrong of ['', '0', '601', '1.5', 'two']) {
      await keepersPage.getByLabel('Months', { exact: true }).fill(wrong);
      await save.click();
      await keepersPage.getByText('Type a whole number from 1 to 600.').waitFor();
    }
    await keepersPage.getByLabel('Months', { exact: true }).fill('36');
    await save.click();
    await keepersPage.getByText(/are removed for good/).waitFor();
    expect(await keeper.call('GET', '/api/retention')).toMatchObject({ months: null });
    await save.click();
    await now.getByText('36 months').waitFor();
    expect(await keeper.call('GET', '/api/retention')).toMatchObject({ months: 36 });
  });

  test('a pairing code is shown once, in two groups of four', async () => {
    await keepersPage.goto(`${suite.api.url}/#/sensors`);
    const free = 'spare-sensor';
    await keeper.call('POST', `/api/sensors/${free}/enrolment`);
    await keepersPage.getByRole('button', { name: `Pairing code: ${free}` }).click();
    await keepersPage.getByTestId('pairing-code').waitFor();
    const groups = await keepersPage.getByTestId('pairing-code').locator('span').allInnerTexts();
    expect(groups.map((group) => group.length)).toEqual([4, 4]);
    await keepersPage.getByText(/^Good for \d+ min \d\d s more\.$/).waitFor();
    const redeemed = await new Person(suite.api.url).call<{ token: string }>('POST', '/api/pairing', {
      ...{ deviceId: free, code: groups.join('-').toLowerCase() },
    });
    expect(redeemed.token).toMatch(/^[0-9a-f]{64}$/);
    await keepersPage.getByRole('button', { name: 'It is typed, hide it' }).click();
    expect(await keepersPage.getByText(groups[0]!).count()).toBe(0);
  });

  test('a keeper erases the athlete after the full name; what is gone and what remains is told', async () => {
    const carer = await carerOfAthlete();
    const session = await carer.call<SessionView>('POST', '/api/sessions', { athleteId });
    await keepersPage.goto(`${suite.api.url}/#/consent/${athleteId}`);
    const erase = keepersPage.getByTestId('erase');
    await erase.getByText(/It cannot be undone/).waitFor();
    await erase.getByText(/^What remains: the audit/).waitFor();
    await erase.getByTestId('erase-open').click();
    const typed = erase.getByLabel(/To erase, type the full name/);
    await typed.fill('Mira Sand');
    await erase.locator('button.main').click();
    await erase.getByText('That is not the name.').waitFor();
    await typed.fill(ATHLETE);
    await erase.locator('button.main').click();
    await erase.getByText(/A session of this athlete is open/).waitFor();
    await carer.call('POST', `/api/sessions/${session.id}/end`);
    await erase.locator('button.main').click();
    const done = keepersPage.getByTestId('erased');
    await done.getByText(/^sessions: 1$/i).waitFor();
    await done.getByText(/^The audit/).waitFor();
    expect(await keepersPage.content()).not.toContain('Mira');
    const left = await keeper.call<AthleteSummary[]>('GET', '/api/athletes');
    expect(left.map(({ id }) => id)).not.toContain(athleteId);
  });

  /** Before this the coach has lost the password. */
  async function carerOfAthlete(): Promise<Person> {
    const carer = await person('coach');
    await keeper.call('PUT', `/api/athletes/${athleteId}/carers/${carer.account.id}`);
    return carer;
  }
});
