/** What a coach does before a trial, against a server that says what the test wants: sensor check, lead-in, other athletes. */
import type {
  AthleteSummary,
  LiveMessage,
  LiveSession,
  MountingReport,
  SensorStatus,
  SessionView,
  TrialSummary,
} from '@ambipede/shared';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { startMockServer, type MockServer } from './web-mock-server.ts';

const SESSION: LiveSession = { sessionId: 's1', startedUtcMs: 0, leadInStep: null, trial: null };
const TOUCH_PX = 48;

function status(place: 'pelvis' | 'sternum', over: Partial<SensorStatus> = {}): SensorStatus {
  return {
    deviceId: `${place}-1`,
    place,
    condition: 'streaming',
    behindS: 0,
    lostSamples: 0,
    receivedSamples: 1000,
    batteryPercent: 80,
    clockResidualMs: 0.4,
    ...over,
  };
}

function report(over: Partial<MountingReport> = {}): MountingReport {
  return {
    source: 'lead-in',
    quaternion: [1, 0, 0, 0],
    frontalUncertaintyDeg: 0.6,
    remarks: [],
    details: { stillS: 4.2, bowAxisShare: 0.97, bowAxisOffHorizontalDeg: 1.5, bowRepeatabilityDeg: 2, bowDepthDeg: 41 },
    ...over,
  };
}

function sessionOf(id: string, leadIn: SessionView['leadIn'], trials: Partial<TrialSummary>[] = []): SessionView {
  return {
    id,
    athleteId: 'a1',
    startedUtcMs: 0,
    endedUtcMs: null,
    leadInStep: null,
    leadIn,
    mounting: {},
    trials: trials as TrialSummary[],
  };
}

function athlete(id: string, name: string, over: Partial<AthleteSummary> = {}): AthleteSummary {
  return {
    id,
    name,
    bodyMassKg: null,
    dominantHand: null,
    preferredTakeOffFoot: null,
    notes: '',
    sensors: [],
    openSessionId: null,
    lastTrialUtcMs: null,
    trialCount: 0,
    ...over,
  };
}

function mounting(one: MountingReport): LiveMessage {
  return { type: 'mounting', mounting: { pelvis: one, sternum: one } };
}

describe.skipIf(CHROMIUM === undefined)('before a trial (needs Chromium)', () => {
  let browser: Browser;
  let server: MockServer;
  let page: Page;
  let session: LiveSession | null;
  let sensors: SensorStatus[];
  let feed: ReturnType<typeof setInterval>;

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());

  beforeEach(async () => {
    server = await startMockServer();
    session = SESSION;
    sensors = [status('pelvis'), status('sternum')];
    server.greeting = () => [
      { type: 'hello', serverUtcMs: Date.now(), version: 'test', athleteId: 'a1' },
      { type: 'session', session },
    ];
    server.answers.set('GET /api/athletes', [athlete('a1', 'Tove Arden')]);
    server.answers.set('GET /api/sensors', [known('pelvis-1', true), known('sternum-1', true)]);
    server.answers.set('GET /api/refused-sensors', []);
    server.answers.set('GET /api/sessions/s1', sessionOf('s1', []));
    feed = setInterval(() => server.send({ type: 'sensors', serverUtcMs: Date.now(), sensors }), 50);
    page = await (await browser.newContext()).newPage();
  });
  afterEach(async () => {
    clearInterval(feed);
    await page.context().close();
    await server.close();
  });

  const known = (deviceId: string, enrolled: boolean) => ({ deviceId, athleteId: 'a1', place: null, enrolled });
  const open = () => page.goto(`${server.address}/#/live/a1`);
  const check = (place: string): Locator => page.locator(`[data-testid=sensor-check][data-place=${place}]`);
  const verdict = (place: string) => () => check(place).getByTestId('check-verdict').innerText();
  const outcome = (place: string): Locator => page.locator(`[data-testid=step-outcome][data-place=${place}]`);
  const start = (step: string): Locator => page.locator(`[data-testid=lead-in-start][data-step=${step}]`);
  const becomes = (read: () => Promise<unknown>, wanted: unknown) =>
    expect.poll(read, { timeout: 15_000 }).toEqual(wanted);
  const step = (leadInStep: LiveSession['leadInStep'], leadIn: SessionView['leadIn']) => {
    server.answers.set('GET /api/sessions/s1', sessionOf('s1', leadIn));
    session = { ...SESSION, leadInStep };
    server.send({ type: 'session', session });
  };
  const STAND = { step: 'reference_stand', startUtcMs: 1, endUtcMs: 2 } as const;
  const BOWS = { step: 'forward_bow', startUtcMs: 3, endUtcMs: 4 } as const;

  test('each sensor has one verdict that says what to do, and a session can be started all the same', async () => {
    session = null;
    await open();
    await becomes(verdict('pelvis'), 'Pelvis: ready');
    sensors = [status('pelvis', { batteryPercent: 19 }), status('sternum', { condition: 'disconnected', behindS: 40 })];
    await becomes(verdict('pelvis'), 'Pelvis: ready, battery low (19 %)');
    await becomes(verdict('sternum'), 'Sternum: not connected');
    expect(await check('sternum').getByTestId('check-todo').innerText()).toMatch(/^Switch it on/);
    await check('sternum').locator('summary').click();
    // What a sensor that is away said of its battery is of the past.
    const battery = check('sternum').locator('[data-question=battery]');
    expect(await battery.innerText()).toContain('last known: 80 %');
    expect(await battery.getAttribute('data-fine')).toBeNull();
    expect(await page.getByTestId('session-start').isEnabled()).toBe(true);
  });

  test('a sensor that is not enrolled and one that is not there are told apart', async () => {
    server.answers.set('GET /api/sensors', [known('pelvis-1', false)]);
    sensors = [status('pelvis', { condition: 'never-seen', behindS: null, receivedSamples: 0 })];
    await open();
    await becomes(verdict('pelvis'), 'Pelvis: not enrolled');
    await becomes(verdict('sternum'), 'Sternum: no sensor assigned');
    expect(await check('sternum').getByTestId('check-todo').innerText()).toContain('Sensors page');
  });

  test('nothing is called ready while the feed is lost', async () => {
    await open();
    await becomes(verdict('sternum'), 'Sternum: ready');
    server.beating = false;
    await becomes(verdict('sternum'), 'Sternum: not known');
    await becomes(() => check('sternum').getAttribute('data-readiness'), 'unknown');
  });

  test('the stand counts from the server’s start of it and stops counting when the feed is lost', async () => {
    await open();
    await start('reference_stand').waitFor();
    step('reference_stand', [{ ...STAND, startUtcMs: Date.now() - 120_000, endUtcMs: null }]);
    const time = page.getByTestId('lead-in-time');
    await becomes(async () => Number.parseInt(await time.innerText()) >= 120, true);
    expect(await page.getByTestId('lead-in-under-way').innerText()).toContain('Held long enough');
    expect(await page.getByTestId('lead-in-under-way').innerText()).toContain('There is no live tilt yet');
    server.beating = false;
    await time.waitFor({ state: 'detached' });
  });

  test('a report from before a repeat is not its verdict; a poor one offers the repeat, a good one says so', async () => {
    const REMARK = 'The bows leaned to one side: repeat them with both feet loaded alike.';
    await open();
    await start('forward_bow').waitFor();
    step('reference_stand', []);
    await page.getByTestId('lead-in-stop').waitFor();
    step(null, [STAND]);
    await page.getByText(/judges it together with the bows/).waitFor();
    step('forward_bow', [STAND]);
    await page.getByTestId('lead-in-stop').waitFor();
    step(null, [STAND, BOWS]);
    await becomes(() => outcome('pelvis').getAttribute('data-outcome'), 'waiting');
    server.send(mounting(report({ remarks: [REMARK] })));
    await becomes(() => outcome('pelvis').getAttribute('data-outcome'), 'repeat');
    expect(await outcome('pelvis').innerText()).toContain(REMARK);
    expect(await start('forward_bow').getAttribute('class')).toContain('main');
    expect(await start('forward_bow').innerText()).toBe('Repeat the bows');

    step('forward_bow', [STAND, BOWS]);
    await page.getByTestId('lead-in-stop').waitFor();
    step(null, [STAND, BOWS, BOWS]);
    await becomes(() => outcome('pelvis').getAttribute('data-outcome'), 'waiting');
    // The same report once more, as after a new connection, says nothing of the repeat.
    server.send(mounting(report({ remarks: [REMARK] })));
    await becomes(() => outcome('pelvis').getAttribute('data-outcome'), 'kept');
    server.send(mounting(report({ frontalUncertaintyDeg: 0.7 })));
    await becomes(() => outcome('pelvis').getAttribute('data-outcome'), 'good');
    await becomes(() => outcome('sternum').getAttribute('data-outcome'), 'good');
    expect(await start('forward_bow').getAttribute('class')).not.toContain('main');
  });

  test('other athletes under way are one tap away, with what they are doing', async () => {
    const trial = { id: 't9', state: 'running', task: 'run' } as const;
    server.answers.set('GET /api/sessions/s2', sessionOf('s2', [], [trial]));
    server.answers.set('GET /api/athletes', [
      athlete('a1', 'Tove Arden', { openSessionId: 's1' }),
      athlete('a2', 'Bram Ilse', { openSessionId: 's2' }),
      athlete('a3', 'Suvi Kall', { sensors: [status('pelvis', { condition: 'silent' })] }),
      athlete('a4', 'Not Today'),
      athlete('a5', 'Lost Session', { openSessionId: 'gone' }),
    ]);
    await open();
    await becomes(
      () => page.getByTestId('other').evaluateAll((links) => links.map((link) => link.getAttribute('aria-label'))),
      ['Bram Ilse: trial running: Run', 'Lost Session: not known now', 'Suvi Kall: sensors not ready'],
    );
    await page.getByRole('link', { name: /^Bram Ilse/ }).click();
    expect(page.url()).toMatch(/#\/live\/a2$/);
    await page.getByRole('heading', { name: 'Bram Ilse' }).waitFor();
    expect(await page.locator('[data-testid=other][data-id=a2]').count()).toBe(0);
    // Whether they are still at it is not known once the server has stopped answering.
    server.answers.delete('GET /api/athletes');
    await becomes(() => page.locator('[data-testid=other][data-id=a1] .note').innerText(), 'not known now');
  });

  test('has targets that a wet finger hits, on a phone too', async () => {
    await page.setViewportSize({ width: 390, height: 844 });
    server.answers.set('GET /api/athletes', [
      athlete('a1', 'Tove Arden'),
      athlete('a2', 'Bram Ilse', { sensors: [status('pelvis')] }),
    ]);
    await open();
    await page.getByTestId('other').waitFor();
    for (const target of await page
      .locator('[data-testid=session-check] summary, [data-testid=lead-in-start], [data-testid=other]')
      .all()) {
      expect((await target.boundingBox())?.height, await target.innerText()).toBeGreaterThanOrEqual(TOUCH_PX);
    }
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
  });
});
