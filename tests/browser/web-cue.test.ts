/** The centre cue in a real browser: what the bar shows and what comes out of the loudspeakers. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { SESSION, stanceOf, startWorld, type World } from './page-world.ts';

/** Louder than rounding, much quieter than any tone at half volume. */
const AUDIBLE_RMS = 0.005;

/** Runs in the page before anything else: measures each channel of whatever is connected to the loudspeakers. */
function listen(): void {
  type Connect = (this: AudioNode, to: AudioNode | AudioParam, output?: number, input?: number) => AudioNode;
  const connect = AudioNode.prototype.connect as Connect;
  const ears: AnalyserNode[] = [];
  const patched: Connect = function (to, ...ports) {
    if (to instanceof AudioDestinationNode) {
      const split = new ChannelSplitterNode(this.context, { numberOfOutputs: 2 });
      connect.call(this, split);
      for (const ear of [0, 1]) {
        ears[ear] = new AnalyserNode(this.context, { fftSize: 8192 });
        connect.call(split, ears[ear], ear);
      }
    }
    return connect.call(this, to, ...ports);
  };
  AudioNode.prototype.connect = patched as AudioNode['connect'];
  const rms = (ear: AnalyserNode): number => {
    const samples = new Float32Array(ear.fftSize);
    ear.getFloatTimeDomainData(samples);
    return Math.sqrt(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
  };
  Object.assign(window, { heard: () => ears.map(rms) });
}

describe.skipIf(CHROMIUM === undefined)('the centre cue (needs Chromium)', () => {
  let browser: Browser;
  let world: World;
  let page: Page;

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());

  beforeEach(async () => {
    world = await startWorld();
    page = await (await browser.newContext({ serviceWorkers: 'block' })).newPage();
    await page.addInitScript(listen);
    await page.goto(`${world.server.address}/#/live/a1`);
    await at('cue-toggle').click();
    await at('cue-bar').waitFor();
  });
  afterEach(async () => {
    await page.context().close();
    await world.close();
  });

  const at = (id: string) => page.getByTestId(id);
  const becomes = (read: () => Promise<unknown>, wanted: unknown) =>
    expect.poll(read, { timeout: 15_000, interval: 50 }).toEqual(wanted);
  const state = () => at('cue-bar').getAttribute('data-state');
  const words = () => at('cue-bar').innerText();
  /** Where the mark is from the plumb line, in parts of the bar: negative is left. */
  const markOffset = () =>
    at('cue-mark').evaluate((mark) => {
      const track = mark.parentElement!.getBoundingClientRect();
      const box = mark.getBoundingClientRect();
      return (box.x + box.width / 2 - track.x) / track.width - 0.5;
    });
  /** Which ears hear something. The page cannot be asked before the sound was started. */
  const ears = () =>
    page.evaluate(
      (limit) => (window as unknown as { heard(): number[] }).heard().map((rms) => rms > limit),
      AUDIBLE_RMS,
    );

  test('shows the side of the lean, the way back, and the centre within the chosen zone', async () => {
    world.now.trunkTiltDeg = 6;
    await becomes(state, 'left');
    expect(await words()).toContain('6.0° to the left');
    expect(await words()).toContain('come to the right');
    expect(await markOffset()).toBeCloseTo(-0.3, 2);
    world.now.trunkTiltDeg = -4;
    await becomes(state, 'right');
    expect(await markOffset()).toBeCloseTo(0.2, 2);
    await at('cue-zone').selectOption({ label: '±5°' });
    await becomes(state, 'centre');
    await becomes(() => at('cue-aloud').innerText(), 'Centre');
    world.now.obliquityDeg = 9;
    await at('cue-part').selectOption({ label: 'Pelvis' });
    await becomes(state, 'left');
    expect(await words()).toContain('left side lower');
  });

  test('makes no sound until it is told to, then comes from the side, is silent in the centre and falls silent when stopped', async () => {
    world.now.trunkTiltDeg = 6;
    await becomes(state, 'left');
    // No loudspeaker has been connected.
    expect(await ears()).toEqual([]);
    await at('cue-sound').click();
    await becomes(ears, [true, false]);
    world.now.trunkTiltDeg = -6;
    await becomes(ears, [false, true]);
    world.now.trunkTiltDeg = 0.5;
    await becomes(ears, [false, false]);
    world.now.trunkTiltDeg = -6;
    await becomes(ears, [false, true]);
    await at('cue-sound').click();
    expect(await at('cue-sound').getAttribute('aria-pressed')).toBe('false');
  });

  test('a sensor that falls silent at the centre is heard in both ears, and the mark goes', async () => {
    await at('cue-sound').click();
    await becomes(state, 'centre');
    await becomes(ears, [false, false]);
    world.now.sternum = 'silent';
    await becomes(state, 'lost');
    expect(await at('cue-mark').count()).toBe(0);
    expect(await words()).toContain('No signal');
    await becomes(ears, [true, true]);
    world.now.sternum = 'streaming';
    await becomes(state, 'centre');
    await becomes(ears, [false, false]);
  });

  test('a connection that is lost at the centre is heard, though angles still arrive', async () => {
    await at('cue-sound').click();
    await becomes(state, 'centre');
    world.server.beating = false;
    await becomes(state, 'lost');
    await becomes(ears, [true, true]);
    expect(await words()).toContain('The connection is lost.');
  });

  test('a page that hangs is heard: the falling tones start without it', async () => {
    await at('cue-sound').click();
    await becomes(ears, [false, false]);
    // The page's own loop is busy while the audio thread goes on; what it played meanwhile is what is read right after.
    const heard = await page.evaluate(() => {
      const until = performance.now() + 2000;
      let loudest = [0, 0];
      while (performance.now() < until) {
        const now = (window as unknown as { heard(): number[] }).heard();
        loudest = loudest.map((value, i) => Math.max(value, now[i]!));
      }
      return loudest;
    });
    for (const rms of heard) expect(rms).toBeGreaterThan(AUDIBLE_RMS);
  });

  test('says that a reference is needed when the zero is guessed from the movement', async () => {
    await becomes(state, 'centre');
    world.mounting = { ...world.mounting, source: 'movement' };
    world.tell();
    await becomes(state, 'lost');
    expect(await words()).toContain('do the reference stand first');
  });

  test('walking, follows the newest step and not the swaying angle; a run-up has no cue and ends the sound', async () => {
    const trial = { trialId: 't1', task: 'walk' as const, startedUtcMs: Date.now() };
    const startedUtcMs = Date.now() - 10_000;
    world.now = { ...world.now, session: { ...SESSION, startedUtcMs, trial }, trunkTiltDeg: -20 };
    world.tell();
    await becomes(state, 'lost');
    const step = (id: number, side: 'left' | 'right') =>
      world.server.send({
        type: 'stance',
        trialId: 't1',
        stance: { ...stanceOf(id, side, { leanToStanceMeanDeg: 5 }), toeOff: (Date.now() - startedUtcMs) / 1000 },
        provisional: true,
        withdrawn: false,
      });
    step(10, 'left');
    await becomes(state, 'left');
    expect(await words()).toContain('step on the left');
    step(11, 'right');
    await becomes(state, 'right');
    // No more steps: nothing stays on screen.
    await becomes(state, 'lost');
    await at('cue-sound').click();
    await becomes(() => at('cue-sound').getAttribute('aria-pressed'), 'true');
    world.now.session = { ...SESSION, startedUtcMs, trial: { ...trial, task: 'run-up' } };
    world.tell();
    await becomes(state, 'paused');
    expect(await at('cue-sound').getAttribute('aria-pressed')).toBe('false');
  });
});
