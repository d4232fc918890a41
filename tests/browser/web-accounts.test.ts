/** People and consents in the browser on the whole server: from a coach's first password to a consent that is taken back. */
import type { Consent, SensorEnrolment } from '@ambipede/shared';
import { PLACES } from '@ambipede/shared';
import { hostNowMs, startVirtualSensor, type VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import {
  exampleAthlete,
  readingsOf,
  realistic,
  simulateSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { PASSWORD, Person, newAthleteOf, newPerson } from '../support/people.ts';
import { waitUntil } from '../support/wait-until.ts';
import { MARKUP, useAccessSuite, type AccessSuite } from './access-suite.ts';
import { CHROMIUM } from './chromium.ts';

const SEED = 11;
const MOVING_S = 120;
const TEST_LIMIT_MS = 90_000;
const ATHLETE = `Mira ${MARKUP} Sand`;
const COACH = `Bo ${MARKUP} Lund`;

type Signed = Awaited<ReturnType<typeof newPerson>>;

describe.skipIf(CHROMIUM === undefined)('people and consents (needs Chromium)', { timeout: TEST_LIMIT_MS }, () => {
  let suite: AccessSuite;
  let keeper: Signed;
  let keepersPage: Page;
  let coachsPage: Page;
  let athleteId = '';
  const coach = { login: 'bo.lund', first: '' };
  const sensors: VirtualSensor[] = [];
  useAccessSuite((started) => void (suite = started));
  const person = (...roles: Parameters<typeof newPerson>[1]) =>
    newPerson({ database: suite.database, url: suite.api.url }, roles);

  beforeAll(async () => {
    keeper = await person('keeper');
    keepersPage = await suite.open('#/accounts');
    await suite.signIn(keepersPage, keeper.account.login);
    await keepersPage.getByTestId('accounts').waitFor();
  });
  afterAll(() => Promise.all(sensors.map((sensor) => sensor.stop())));

  const purpose = (page: Page, name: string) => page.locator(`[data-testid=purpose][data-purpose="${name}"]`);
  const row = (login: string) => keepersPage.locator(`[data-testid=account-row][data-login="${login}"]`);

  /** Both sensors of the athlete, sending what an invented athlete does. */
  async function wearSensors(carer: Person, of: string): Promise<void> {
    const body = simulateSession({
      seed: SEED,
      athlete: exampleAthlete(SEED),
      sensors: { pelvis: realistic('pelvis', SEED), sternum: realistic('sternum', SEED) },
      script: [{ kind: 'walk', seconds: MOVING_S, cadencePerMin: 110 }],
    });
    for (const place of PLACES) {
      const deviceId = `worn-${place}`;
      await carer.call('PUT', `/api/sensors/${deviceId}`, { athleteId: of, place });
      const { token } = await carer.call<SensorEnrolment>('POST', `/api/sensors/${deviceId}/enrolment`);
      sensors.push(
        startVirtualSensor({
          ...{ deviceId, token, url: `${suite.api.socketUrl}/ingest`, rateHz: body.rateHz },
          ...{ source: readingsOf(body.streams[place]!), startMs: hostNowMs() },
        }),
      );
    }
  }

  test('a keeper adds a coach, whose first password is shown once', async () => {
    await keepersPage.getByTestId('account-add').click();
    const form = keepersPage.getByTestId('account-form');
    await form.locator('button.main').click();
    await form.getByText('Choose at least one role.').waitFor();
    await form.getByLabel('Name', { exact: true }).fill(COACH);
    await form.getByLabel('Login').fill(`Bo${MARKUP}`);
    await form.getByRole('checkbox', { name: /^Coach/ }).check();
    await form.locator('button.main').click();
    await form.getByRole('alert').getByText(/login/).waitFor();
    await form.getByLabel('Login').fill(coach.login);
    await form.locator('button.main').click();
    const shown = keepersPage.getByTestId('first-password-shown');
    await shown.waitFor();
    coach.first = await shown.getByLabel('First password').inputValue();
    expect(coach.first).toMatch(/^[a-z0-9]{5}(-[a-z0-9]{5}){3}$/);
    await row(coach.login).getByText(COACH).waitFor();
    await row(coach.login).getByText('First password not changed yet').waitFor();
    await keepersPage.getByTestId('secret-done').click();
    await shown.waitFor({ state: 'detached' });
    expect(await keepersPage.content()).not.toContain(coach.first);
  });

  test('the coach takes a password of their own, takes in an athlete, and is told that recording needs consent', async () => {
    coachsPage = await suite.open();
    await suite.signIn(coachsPage, coach.login, coach.first);
    await coachsPage.getByLabel('Password that was given to you').fill(coach.first);
    for (const label of ['New password', 'New password again'])
      await coachsPage.getByLabel(label, { exact: true }).fill(PASSWORD);
    await coachsPage.getByTestId('password-form').locator('button.main').click();
    expect(await coachsPage.getByRole('link', { name: 'Accounts' }).count()).toBe(0);
    await coachsPage.getByTestId('athlete-add').click();
    await coachsPage.locator('#new-athlete-name').fill(ATHLETE);
    await coachsPage.getByTestId('athlete-form').locator('button.main').click();
    await coachsPage.getByRole('heading', { name: ATHLETE }).waitFor();
    athleteId = (await coachsPage.getByTestId('athlete').getAttribute('data-id'))!;

    await coachsPage.getByRole('link', { name: `Live: ${ATHLETE}` }).click();
    const told = coachsPage.getByTestId('not-allowed');
    await told.getByText(/There is no consent in force to recording this athlete/).waitFor();
    expect(await coachsPage.getByTestId('session-start').count()).toBe(0);
    await told.getByRole('link', { name: 'Open the page Consent' }).click();
    await coachsPage.getByRole('heading', { name: `Consent: ${ATHLETE}` }).waitFor();
  });

  test('the coach writes down the consent of a guardian, and then starts a session', async () => {
    const recording = purpose(coachsPage, 'recording');
    await recording.getByTestId('consent-record').click();
    await recording.getByRole('radio', { name: 'A guardian' }).check();
    await recording.getByLabel('Name of who agreed').fill(`Ines ${MARKUP}`);
    await recording.getByTestId('consent-form').locator('button.main').click();
    await recording.getByText('Type how the guardian stands to the athlete.').waitFor();
    await recording.getByLabel('How they stand to the athlete').fill('mother');
    await recording.getByTestId('consent-form').locator('button.main').click();
    await recording.getByText('In force since').waitFor();
    await recording.getByText(`Given by Ines ${MARKUP}, mother of the athlete, written down by ${COACH}`).waitFor();
    expect(await coachsPage.getByTestId('erase').count()).toBe(0);
    expect(await coachsPage.getByTestId('take-out').count()).toBe(0);
    const [consent] = await keeper.call<Consent[]>('GET', `/api/athletes/${athleteId}/consents`);
    expect(consent).toMatchObject({ purpose: 'recording', givenByName: `Ines ${MARKUP}`, guardianOf: 'mother' });

    await coachsPage.goto(`${suite.api.url}/#/live/${athleteId}`);
    await coachsPage.getByTestId('session-start').click();
    await coachsPage.getByTestId('cautions-acknowledge').waitFor();
  });

  test('another coach does not see the athlete, in the roster or at the address', async () => {
    const other = await person('coach');
    const page = await suite.open();
    await suite.signIn(page, other.account.login);
    await page.getByText('Nobody here yet').waitFor();
    for (const way of ['live', 'history', 'consent']) {
      await page.goto(`${suite.api.url}/#/${way}/${athleteId}`);
      await page.getByRole('alert').first().waitFor();
    }
    expect(await page.content()).not.toContain('Mira');
  });

  test('a consent that is taken back ends the live page at once, and the page says why', async () => {
    const carer = new Person(suite.api.url);
    await carer.signIn(coach.login);
    await wearSensors(carer, athleteId);
    const tilt = coachsPage.getByTestId('live-obliquity');
    await waitUntil('a live value is on screen', async () => /\d°?/.test(await tilt.innerText()));
    const consents = await keeper.call<Consent[]>('GET', `/api/athletes/${athleteId}/consents`);
    const withdrawal = `/api/athletes/${athleteId}/consents/${consents[0]!.id}/withdrawal`;
    await keeper.call('POST', withdrawal, { byName: 'Ines Sand' });
    await coachsPage
      .getByTestId('not-allowed')
      .getByText(/no consent in force to recording/)
      .waitFor();
    for (const id of ['live-obliquity', 'live-trunk-tilt', 'live-area', 'trial-start', 'session-start'])
      expect([id, await coachsPage.getByTestId(id).count()]).toEqual([id, 0]);
    await coachsPage.goto(`${suite.api.url}/#/history/${athleteId}`);
    await coachsPage
      .getByText(/no consent in force to recording/)
      .first()
      .waitFor();
    await coachsPage.goto(`${suite.api.url}/#/consent/${athleteId}`);
    await purpose(coachsPage, 'recording')
      .getByText(/taken back by Ines Sand/)
      .waitFor();
  });

  test('an athlete sees what is theirs, starts nothing, takes a consent back, and takes everything out', async () => {
    const other = await person('coach');
    const strangerId = await newAthleteOf(other, 'Jon Heide');
    await keepersPage.getByTestId('account-add').click();
    const form = keepersPage.getByTestId('account-form');
    await form.getByLabel('Name', { exact: true }).fill('Mira Sand');
    await form.getByLabel('Login').fill('mira');
    await form.getByRole('checkbox', { name: /^Athlete/ }).check();
    await form.getByLabel('Which athlete it is').selectOption({ label: ATHLETE });
    await form.locator('button.main').click();
    const first = await keepersPage.getByLabel('First password').inputValue();
    await keepersPage.getByTestId('secret-done').click();
    const own = new Person(suite.api.url);
    await own.signIn('mira', first);
    await own.call('POST', '/api/me/password', { password: first, newPassword: PASSWORD });

    const page = await suite.open();
    await suite.signIn(page, 'mira');
    await page.getByRole('heading', { name: ATHLETE }).waitFor();
    expect(await page.getByTestId('athlete').count()).toBe(1);
    for (const id of ['athlete-add', 'athlete-edit']) expect([id, await page.getByTestId(id).count()]).toEqual([id, 0]);
    const ways = await page.getByRole('navigation').getByRole('link').allInnerTexts();
    expect(ways).toEqual(['Athletes', 'Mira Sand']);
    await page.getByRole('link', { name: `Live: ${ATHLETE}` }).click();
    await page.locator('[data-testid=live-area][data-stale=false]').waitFor();
    for (const id of ['session-start', 'trial-start', 'session-check', 'cautions-acknowledge'])
      expect([id, await page.getByTestId(id).count()]).toEqual([id, 0]);
    await page.goto(`${suite.api.url}/#/consent/${strangerId}`);
    await page.getByRole('alert').first().waitFor();
    expect(await page.content()).not.toContain('Jon Heide');

    await page.goto(`${suite.api.url}/#/consent/${athleteId}`);
    const health = purpose(page, 'health to coach');
    await health.getByTestId('consent-record').click();
    await health.getByLabel('Name of who agreed').fill('Mira Sand');
    await health.getByTestId('consent-form').locator('button.main').click();
    await health.getByText('Given by the athlete, Mira Sand').waitFor();
    await health.getByTestId('consent-withdraw').click();
    await health.getByTestId('withdraw-form').locator('button.main').click();
    await health.getByText('Type the name of who takes the consent back.').waitFor();
    await health.getByLabel('Name of who takes it back').fill('Mira Sand');
    await health.getByTestId('withdraw-form').locator('button.main').click();
    await health.getByText(/taken back by Mira Sand/).waitFor();
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByTestId('take-out').click()]);
    expect(download.suggestedFilename()).toMatch(/\.tar$/);
    expect(await download.failure()).toBe(null);
  });
});
