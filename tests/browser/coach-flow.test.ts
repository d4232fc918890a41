/**
 * From nothing to a left-right answer in the browser alone, as a coach does it: an athlete, two sensors, the check, the
 * lead-in, a walk in which the sternum's radio fails, the final result, a tag, the trial left out. The sensors speak the real
 * protocol; what the athlete really does is known from the simulation, which shares no code with the analysis.
 */
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  PLACES,
  type AthleteSummary,
  type Place,
  type SessionView,
  type TrialSummary,
  type TrialView,
} from '@ambipede/shared';
import { hostNowMs, startVirtualSensor, type VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import {
  exampleAthlete,
  readingsOf,
  realistic,
  simulateSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';

const WEB_DIR = fileURLToPath(new URL('../../web/dist', import.meta.url));
const SEED = 7;
const NAME = 'Ida Testfeld';
/** Time to open the session and to read the cautions. */
const BEFORE_S = 20;
const AFTER_LEAD_IN_S = 8;
const WALK_S = 32;
const STEP_LIMIT_MS = 30_000;
const FLOW_LIMIT_MS = 180_000;
/** Two standard uncertainties of the frontal zero show twice in a difference, and the goal of the method (as in demo.test.ts). */
const DIFFERENCE_TOLERANCE_DEG = 2 * 0.6 + 0.5;

const body = simulateSession({
  seed: SEED,
  athlete: exampleAthlete(SEED),
  sensors: { pelvis: realistic('pelvis', SEED), sternum: realistic('sternum', SEED) },
  script: [
    { kind: 'pause', seconds: BEFORE_S },
    { kind: 'reference_stand', seconds: 6 },
    { kind: 'forward_bow', seconds: 9 },
    { kind: 'pause', seconds: AFTER_LEAD_IN_S },
    { kind: 'walk', seconds: WALK_S, cadencePerMin: 110 },
    { kind: 'pause', seconds: 6 },
  ],
});
const markOf = (kind: string) => body.marks.find((mark) => mark.kind === kind)!;
const RADIO_OFF = { startS: markOf('walk').startS + 8, endS: markOf('walk').startS + 14 };

function trueDropDifference(): number {
  const mean = (side: string): number => {
    const values = body.truth.stances.filter((each) => each.task === 'walk' && each.side === side);
    return values.reduce((sum, each) => sum + each.swingSideDropDeg, 0) / values.length;
  };
  return mean('left') - mean('right');
}

describe.skipIf(CHROMIUM === undefined || !existsSync(WEB_DIR))('a coach alone with a tablet (needs Chromium)', () => {
  let postgres: TestPostgres;
  let api: TestApp;
  let browser: Browser;
  let page: Page;
  let sensors: VirtualSensor[] = [];
  let startMs = 0;
  const tokens = { pelvis: '', sternum: '' };
  const at = (testId: string) => page.getByTestId(testId);
  const until = async (s: number) => sleep(Math.max(0, startMs + s * 1000 - hostNowMs()));
  const athlete = async () => (await api.call<AthleteSummary[]>('GET', '/api/athletes'))[0]!;
  const trial = async () => (await api.call<TrialSummary[]>('GET', `/api/athletes/${(await athlete()).id}/trials`))[0]!;

  beforeAll(async () => {
    postgres = await startTestPostgres();
    api = await startTestApp(await postgres.newDatabase(), { webDir: WEB_DIR });
    browser = await launchChromium();
    page = await browser.newPage({ viewport: { width: 1180, height: 820 } });
    page.setDefaultTimeout(STEP_LIMIT_MS);
  }, FLOW_LIMIT_MS);
  afterAll(async () => {
    await Promise.all(sensors.map((sensor) => sensor.stop()));
    await browser?.close();
    await api?.close();
    await postgres?.stop();
  }, FLOW_LIMIT_MS);

  test('adds an athlete', async () => {
    await page.goto(api.url);
    await at('athlete-add').click();
    await page.locator('#new-athlete-name').fill(NAME);
    await page.locator('#new-athlete-mass').fill('61.5');
    await at('athlete-form').locator('button.main').click();
    await at('athlete').getByText(NAME).first().waitFor();
    expect(await athlete()).toMatchObject({ name: NAME, bodyMassKg: 61.5, dominantHand: null });
  });

  test('enrols two sensors and says where each sits', async () => {
    await page.getByRole('navigation').getByRole('link', { name: 'Sensors' }).click();
    for (const place of PLACES) {
      const deviceId = `flow-${place}`;
      await page.locator('#new-sensor').fill(deviceId);
      await page.locator('#new-sensor').press('Enter');
      const shown = page.locator(`[data-testid="token"][data-id="${deviceId}"]`);
      tokens[place] = await shown.locator('input').inputValue();
      await shown.locator('button.main').click();
      const row = page.locator(`[data-testid="sensor-row"][data-id="${deviceId}"]`);
      await row.locator('select').first().selectOption({ label: NAME });
      await row.locator('select').nth(1).selectOption(place);
      await row.locator('form button').click();
      await waitUntil(`the ${place} sensor is placed`, async () =>
        (await athlete()).sensors.some((sensor) => sensor.deviceId === deviceId && sensor.place === place),
      );
    }
    for (const place of PLACES) expect(tokens[place]).toMatch(/^[0-9a-f]{64}$/);
  });

  test('is told which sensor is not there, and when both are', async () => {
    await page.goto(`${api.url}/#/live/${(await athlete()).id}`);
    const check = (place: Place) => page.locator(`[data-testid="sensor-check"][data-place="${place}"]`);
    await check('pelvis').waitFor();
    expect(await check('pelvis').getAttribute('data-readiness')).toBe('not-ready');
    startMs = hostNowMs();
    sensors = PLACES.map((place, i) =>
      startVirtualSensor({
        deviceId: `flow-${place}`,
        token: tokens[place],
        url: `${api.socketUrl}/ingest`,
        rateHz: body.rateHz,
        source: readingsOf(body.streams[place]!),
        startMs,
        seed: i + 1,
        radioLoss: place === 'sternum' ? [RADIO_OFF] : [],
      }),
    );
    for (const place of PLACES) {
      await waitUntil(
        `the ${place} sensor is said to be there`,
        async () => (await check(place).getAttribute('data-readiness')) !== 'not-ready',
        STEP_LIMIT_MS,
      );
    }
  });

  test(
    'opens the session, reads the cautions and leads the athlete through the lead-in',
    async () => {
      await at('session-start').click();
      await at('cautions-acknowledge').click();
      for (const step of ['reference_stand', 'forward_bow']) {
        await until(markOf(step).startS);
        await page.locator(`[data-testid="lead-in-start"][data-step="${step}"]`).click();
        await until(markOf(step).endS);
        await at('lead-in-stop').click();
        await at('lead-in-stop').waitFor({ state: 'hidden' });
      }
      await at('step-outcome').first().waitFor();
      const { openSessionId } = await athlete();
      await waitUntil('both sensors know from the lead-in how they sit', async () => {
        const { mounting } = await api.call<SessionView>('GET', `/api/sessions/${openSessionId}`);
        return PLACES.every((place) => mounting[place]?.source === 'lead-in');
      });
    },
    FLOW_LIMIT_MS,
  );

  test(
    'sees stances within the walk, and in words that the sternum has gone and comes back',
    async () => {
      await page.locator('[data-testid="task-choice"][data-task="walk"]').check({ force: true });
      await until(markOf('walk').startS - 1);
      await at('trial-start').click();
      await at('trial-running').waitFor();
      const sternum = page.locator('[data-testid="sensor-state"][data-place="sternum"]');
      const condition = () => sternum.getAttribute('data-condition');
      const tilt = at('live-trunk-tilt');
      await waitUntil(
        'stances are on screen',
        async () => /\d/.test((await at('n-left').first().textContent())!),
        STEP_LIMIT_MS,
      );
      await until(RADIO_OFF.startS);
      await waitUntil(
        'the page says that the sternum is away',
        async () => (await condition()) === 'disconnected',
        STEP_LIMIT_MS,
      );
      await waitUntil('no tilt is shown', async () => !/\d\.\d/.test((await tilt.textContent())!));
      expect(
        await page.locator('[data-testid="sensor-state"][data-place="pelvis"]').getAttribute('data-condition'),
      ).toBe('streaming');
      await waitUntil('and that it is back', async () => (await condition()) === 'streaming', STEP_LIMIT_MS);
    },
    FLOW_LIMIT_MS,
  );

  test(
    'stops, and gets a final result with the right sign and size, out of samples of which none is missing',
    async () => {
      await until(markOf('walk').endS + 0.5);
      await at('trial-stop').click();
      await waitUntil(
        'the result on screen is final',
        async () => (await at('result-state').first().getAttribute('data-state')) === 'final',
        STEP_LIMIT_MS,
      );
      const view = await api.call<TrialView>('GET', `/api/trials/${(await trial()).id}`);
      const truth = trueDropDifference();
      const found = view.asymmetry.swingSideDropDeg!.difference!;
      expect(Math.sign(found)).toBe(Math.sign(truth));
      expect(Math.abs(found - truth)).toBeLessThan(DIFFERENCE_TOLERANCE_DEG);
      expect(view.quality).toMatchObject({ gaps: 0 });
      expect(view.problem).toBeNull();
    },
    FLOW_LIMIT_MS,
  );

  test('tags the trial, leaves it out of the history and takes it back', async () => {
    await at('own-tag').fill('wet track');
    await at('own-tag').press('Enter');
    await waitUntil('the tag is stored', async () => (await trial()).tags.includes('wet track'));
    await at('trial-discard').click();
    await waitUntil('it is left out', async () => (await trial()).discarded);
    await at('trial-discard').click();
    await waitUntil('it is taken back', async () => !(await trial()).discarded);
  });
});
