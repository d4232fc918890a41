/** The live page against a server that behaves badly on purpose: what is old, lost or withdrawn must never look live. */
import type {
  LiveMessage,
  LiveSession,
  MetricAsymmetry,
  SensorCondition,
  SensorStatus,
  Stance,
} from '@ambipede/shared';
import { CAUTIONS, STANCE_METRIC_KEYS, type StanceMetricKey } from '@ambipede/shared';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { startMockServer, type MockServer } from './web-mock-server.ts';

const SESSION: LiveSession = { sessionId: 's1', startedUtcMs: 0, leadInStep: null, trial: null };
const RUNNING: LiveSession = { ...SESSION, trial: { trialId: 't1', task: 'run', startedUtcMs: 0 } };

function sensors(pelvis: SensorCondition, sternum: SensorCondition): LiveMessage {
  const status = (place: 'pelvis' | 'sternum', condition: SensorCondition): SensorStatus => ({
    deviceId: place,
    place,
    condition,
    behindS: condition === 'streaming' ? 0 : 0.4,
    lostSamples: 0,
    receivedSamples: 1,
    batteryPercent: null,
    clockResidualMs: null,
  });
  return { type: 'sensors', serverUtcMs: Date.now(), sensors: [status('pelvis', pelvis), status('sternum', sternum)] };
}

function angles(obliquity: number, tilt: number): LiveMessage {
  return { type: 'angles', utcMs: [Date.now()], pelvicObliquityDeg: [obliquity], trunkLateralTiltDeg: [tilt] };
}

function stance(id: number, side: Stance['side'], revision = 0): Stance {
  const values = Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, 2])) as Record<StanceMetricKey, number>;
  return { ...values, id, revision, side, initialContact: id, toeOff: id + 0.2, sidePosterior: 0.99, gait: 'run' };
}

function told(one: Stance, withdrawn = false, trialId = 't1'): LiveMessage {
  return { type: 'stance', trialId, stance: one, provisional: true, withdrawn };
}

function result(n: number, verdict: MetricAsymmetry['verdict']): MetricAsymmetry {
  const missing = Math.max(0, 7 - n);
  return {
    left: { n, mean: 6.25, sd: 1 },
    right: { n, mean: 3.5, sd: 1 },
    difference: 2.75,
    ci95: verdict === 'too few stances' ? null : [1.25, 4.25],
    missingStances: { left: missing, right: missing },
    verdict,
  };
}

function provisional(one: MetricAsymmetry): LiveMessage {
  return { type: 'asymmetry', trialId: 't1', provisional: true, metrics: { obliquityExcursionDeg: one } };
}

describe.skipIf(CHROMIUM === undefined)('the live page', () => {
  let browser: Browser;
  let server: MockServer;
  let page: Page;
  let session: LiveSession | null;
  let feed: ReturnType<typeof setInterval>;
  /** Sent twenty times a second. */
  let live: () => LiveMessage[];

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());

  beforeEach(async () => {
    server = await startMockServer();
    session = RUNNING;
    live = () => [sensors('streaming', 'streaming'), angles(4.2, -1.5)];
    server.greeting = () => [
      { type: 'hello', serverUtcMs: Date.now(), version: 'test', athleteId: 'a1' },
      { type: 'session', session },
    ];
    server.answers.set('GET /api/athletes', []);
    feed = setInterval(() => live().forEach((message) => server.send(message)), 50);
    page = await (await browser.newContext()).newPage();
    await page.goto(`${server.address}/#/live/a1`);
    await becomes(() => at('live-area').getAttribute('data-stale'), 'false');
  });
  afterEach(async () => {
    clearInterval(feed);
    await page.context().close();
    await server.close();
  });

  const at = (id: string): Locator => page.getByTestId(id);
  const sensor = (place: string) => page.locator(`[data-testid="sensor-state"][data-place="${place}"]`);
  const value = (id: string) => () => at(id).getAttribute('data-value');
  const text = (locator: Locator) => () => locator.innerText();
  const wordsOf = (id: string) => text(at(id).locator('xpath=following-sibling::span'));
  const sides = () =>
    at('stance-mark').evaluateAll((marks) => marks.map((mark) => `${mark.dataset['id']} ${mark.dataset['side']}`));
  const becomes = (read: () => Promise<unknown>, wanted: unknown) =>
    expect.poll(read, { timeout: 15_000 }).toEqual(wanted);

  test('shows the newest angles with the side in words: right side up means that the left is lower', async () => {
    await becomes(value('live-obliquity'), '4.2');
    await becomes(value('live-trunk-tilt'), '-1.5');
    await becomes(wordsOf('live-obliquity'), 'left lower');
    await becomes(wordsOf('live-trunk-tilt'), 'leans right');
  });

  test('without heartbeats everything is marked as old, though angles still arrive, and recovers with them', async () => {
    await becomes(value('live-obliquity'), '4.2');
    expect(await at('stale-banner').count()).toBe(0);
    server.beating = false;
    await at('stale-banner').waitFor();
    expect(await at('stale-banner').innerText()).toMatch(/^Connection lost \d+ s ago; what you see is old$/);
    await becomes(text(at('live-obliquity')), '–');
    expect(await at('live-area').getAttribute('data-stale')).toBe('true');
    server.beating = true;
    await at('stale-banner').waitFor({ state: 'detached' });
    await becomes(value('live-obliquity'), '4.2');
  });

  test('a sensor that does not stream shows a dash, even when values keep arriving for it', async () => {
    await becomes(value('live-trunk-tilt'), '-1.5');
    live = () => [sensors('streaming', 'silent'), angles(4.2, -1.5)];
    await becomes(text(at('live-trunk-tilt')), '–');
    await becomes(value('live-obliquity'), '4.2');
    expect(await sensor('sternum').innerText()).toContain('connected, but nothing for 0.4 s');
    live = () => [sensors('streaming', 'catching-up'), angles(4.2, -1.5)];
    await becomes(() => sensor('sternum').getAttribute('data-condition'), 'catching-up');
    expect(await sensor('sternum').innerText()).toContain('0.4 s behind, catching up');
    expect(await at('live-trunk-tilt').innerText()).toBe('–');
  });

  test('values that stop coming are no longer current, though the sensor is said to stream', async () => {
    await becomes(value('live-obliquity'), '4.2');
    live = () => [sensors('streaming', 'streaming')];
    await becomes(text(at('live-obliquity')), '–');
  });

  test('a stance changes side with a higher revision, is not changed by a lower one, and goes when withdrawn', async () => {
    server.send(told(stance(1, 'left')));
    server.send(told(stance(2, 'left')));
    await becomes(sides, ['2 left', '1 left']);
    server.send(told(stance(2, 'right', 2)));
    server.send(told(stance(2, 'left', 1)));
    server.send(told(stance(9, 'left'), false, 'another trial'));
    server.send(told(stance(1, 'left', 1), true));
    await becomes(sides, ['2 right']);
  });

  test('a stance withdrawn while the connection was lost does not come back with it', async () => {
    server.send(told(stance(1, 'left')));
    server.send(told(stance(2, 'right')));
    await becomes(sides, ['2 right', '1 left']);
    const greet = server.greeting;
    server.greeting = () => [...greet(), told(stance(2, 'right'))];
    const before = server.connections;
    server.beating = false;
    live = () => [];
    await becomes(async () => server.connections > before, true);
    await becomes(sides, ['2 right']);
  });

  test('numbers are shown as they were sent; too few stances give no verdict but say how many are missing', async () => {
    server.send(provisional(result(5, 'too few stances')));
    const row = page.locator('[data-testid="pair-row"][data-metric="obliquityExcursionDeg"]');
    await becomes(text(row.getByTestId('verdict')), 'No verdict yet: 2 left and 2 right missing');
    expect(await row.getByTestId('interval').innerText()).toBe('no interval yet');
    server.send(provisional(result(8, 'more than scatter')));
    await becomes(text(row.getByTestId('verdict')), 'More than step-to-step scatter');
    expect(await row.getByTestId('n-left').innerText()).toBe('8');
    expect(await row.getByTestId('difference').getAttribute('data-value')).toBe('2.75');
    expect(await row.getByTestId('interval').getAttribute('data-low')).toBe('1.25');
    expect(await row.innerText()).toContain('more on the left');
    expect(await at('result-state').innerText()).toBe('Provisional');
  });

  test('after the stop the final result is fetched, and a late provisional one does not replace it', async () => {
    server.send(provisional(result(8, 'more than scatter')));
    await becomes(text(at('result-state')), 'Provisional');
    const asymmetry = { obliquityExcursionDeg: result(30, 'more than scatter') };
    const kept = { id: 't1', task: 'run', state: 'final', tags: [], note: '', discarded: false };
    server.answers.set('GET /api/trials/t1', { ...kept, stances: [stance(1, 'left')], asymmetry });
    session = SESSION;
    server.send({ type: 'session', session });
    await becomes(text(at('result-state')), 'Final');
    server.send(provisional(result(9, 'more than scatter')));
    server.send(told(stance(5, 'right')));
    // What is sent later has been taken in: so has the provisional result before it.
    live = () => [sensors('streaming', 'disconnected')];
    await becomes(() => sensor('sternum').getAttribute('data-condition'), 'disconnected');
    expect(await at('n-left').innerText()).toBe('30');
    expect(await sides()).toEqual(['1 left']);
  });

  test('the cautions come before the first trial, once per session', async () => {
    session = SESSION;
    server.send({ type: 'session', session });
    await at('read-cautions').waitFor();
    expect(await at('trial-start').count()).toBe(0);
    expect(await at('cautions').locator('li').allInnerTexts()).toEqual([...CAUTIONS]);
    await at('cautions-acknowledge').click();
    await at('trial-start').waitFor();
    await page.reload();
    await at('trial-start').waitFor();
    session = { ...SESSION, sessionId: 's2' };
    server.send({ type: 'session', session });
    await at('read-cautions').waitFor();
    expect(await at('trial-start').count()).toBe(0);
  });

  test('an athlete that does not exist is said to, and not asked for again', async () => {
    server.refusal = 'there is no such athlete: open the roster';
    const before = server.connections;
    await page.reload();
    await becomes(async () => (await at('stale-banner').innerText()).includes(server.refusal!), true);
    // Long enough for several attempts of a page that does try again.
    await page.waitForTimeout(4000);
    expect(server.connections).toBe(before + 1);
  });
});
