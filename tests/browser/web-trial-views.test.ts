/** What each task shows, live and final: numbers as sent, unknown as a dash, old never as now. */
import {
  type HalfTurn,
  type Landing,
  type LiveMessage,
  type LiveTask,
  type QuietStand,
  type SingleLegStand,
  type Task,
  type TaskNow,
  type TaskSummary,
} from '@ambipede/shared';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { EMPTY_SUMMARY, TrialBench, running, stance, trialView } from './web-trial-page.ts';

const SWAY = { lateralRmsDeg: 0.42, forwardRmsDeg: 0.9, pathDegPerS: 3 };
const STAND: QuietStand = {
  startS: 0,
  endS: 10,
  restingLeanDeg: { pelvis: 1.44, trunk: -2.06 },
  restingLeanUncertaintyDeg: { pelvis: 0.6, trunk: 0.7 },
  sway: { pelvis: SWAY, trunk: null },
  chestLeadDeg: 4.2,
  chestLeadUncertaintyDeg: 1,
  chestLeads: 'right',
};
const ONE_LEG: SingleLegStand = {
  startS: 0,
  endS: 10,
  side: 'right',
  heldS: 7.36,
  swingSideHeightDeg: -3.21,
  leanToStanceDeg: 2,
  sideBendDeg: null,
  sway: { pelvis: SWAY, trunk: SWAY },
  corrections: { left: 2, right: 5 },
};
const LANDING: Landing = {
  t: 5,
  feet: null,
  peakVerticalAccelerationG: { pelvis: 4.26, sternum: null },
  kneeTwistProxyDegPerS: { pelvis: 120, trunk: 80 },
  peakTiltDeg: { pelvis: 3, trunk: -4 },
  settleS: null,
};
const turn = (direction: HalfTurn['direction'], durationS: number): HalfTurn => ({
  startS: durationS,
  endS: 2 * durationS,
  direction,
  durationS,
  turnDeg: 178,
  peakRateDegPerS: { pelvis: 300, trunk: null },
  separationOutDeg: -21.4,
  separationBackDeg: 12,
  leanIntoTurnMeanDeg: 1,
  leanIntoTurnPeakDeg: 2,
  settleS: 0.5,
});

function told(now: TaskNow, summary: Partial<TaskSummary>, more: Partial<LiveTask> = {}): LiveMessage {
  const utcMs = Date.now();
  const whole = { ...EMPTY_SUMMARY, ...summary };
  return {
    type: 'task',
    trialId: 't1',
    provisional: true,
    fromUtcMs: utcMs - 3000,
    utcMs,
    now,
    summary: whole,
    ...more,
  };
}

describe.skipIf(CHROMIUM === undefined)('the view of a task', () => {
  let browser: Browser;
  let bench: TrialBench;
  let repeat: ReturnType<typeof setInterval> | undefined;

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());
  afterEach(async () => {
    clearInterval(repeat);
    await bench.close();
  });

  const open = async (task: Task): Promise<void> => {
    bench = await TrialBench.open(browser, running(task));
  };
  /** As the server does: again and again, with the time of each. */
  function keepTelling(message: () => LiveMessage): void {
    clearInterval(repeat);
    bench.send(message());
    repeat = setInterval(() => bench.send(message()), 200);
  }
  const has = (id: string, part: string) =>
    bench.becomes(async () => (await bench.at(id).allInnerTexts()).join(' ').replace(/\s+/g, ' ').includes(part), true);
  const finish = (task: Task, taskSummary: Partial<TaskSummary>, more: Parameters<typeof trialView>[1] = {}) =>
    bench.stop(trialView(task, { taskSummary: { ...EMPTY_SUMMARY, ...taskSummary }, ...more }));

  const leaning = (pelvis: number | null, trunk: number | null): TaskNow => ({
    kind: 'standing',
    leanDeg: { pelvis, trunk },
    heldS: 2.5,
    corrections: { left: 1, right: 4 },
  });

  test('a stand: lean with its side, right side up is the left lower; a missing one is a dash that says why', async () => {
    await open('stand');
    await bench.becomes(() => bench.at('task-view').getAttribute('data-state'), 'none');
    keepTelling(() => told(leaning(1.26, null), { stand: [STAND] }));
    await bench.becomes(bench.value('lean-pelvis'), '1.3');
    expect(await bench.text('task-state')()).toBe('Provisional');
    expect(await bench.page.locator('.lean').first().innerText()).toContain('left lower');
    expect(await bench.text('lean-trunk')()).toBe('–');
    expect(await bench.page.locator('.lean').nth(1).innerText()).toContain('it takes a reference stand before');
    expect([await bench.text('corrections-left')(), await bench.text('corrections-right')()]).toEqual(['1', '4']);
    await has('standing-facts', 'Sway: Pelvis 0.4°');
    await has('standing-facts', 'Sway: Trunk –');
  });

  test('what was told too long ago is not how it is now: the lean is a dash, and the rest says of when it is', async () => {
    await open('stand');
    keepTelling(() => told(leaning(1.26, 2), { stand: [STAND] }));
    await bench.becomes(bench.value('lean-trunk'), '2');
    clearInterval(repeat);
    await bench.becomes(bench.text('lean-trunk'), '–');
    await has('task-limit', 'No new samples');
    expect(await bench.text('task-state')()).toBe('Provisional');
  });

  test('numbers of the last part alone say so', async () => {
    await open('stand');
    const started = running('stand');
    started.trial!.startedUtcMs = Date.now() - 200_000;
    bench.become({ ...started, trial: { ...started.trial!, trialId: 't3' } });
    keepTelling(() => told(leaning(1, 1), {}, { trialId: 't3', fromUtcMs: Date.now() - 60_000 }));
    await has('task-limit', 'About the last 60 s only.');
  });

  test('a final stand replaces the live one, with its uncertainty, the side of the chest, and the remarks', async () => {
    await open('stand');
    bench.send(told(leaning(9, 9), { stand: [STAND] }));
    await bench.becomes(bench.value('lean-pelvis'), '9');
    finish('stand', { stand: [STAND], remarks: ['The trunk has no zero.'] });
    await bench.becomes(bench.value('lean-pelvis'), '1.4');
    expect(await bench.value('lean-trunk')()).toBe('-2.1');
    expect(await bench.text('task-state')()).toBe('Final');
    expect(await bench.page.locator('.lean').first().innerText()).toContain('Within ±0.6°');
    await has('standing-facts', 'Chest ahead 4.2° right side ahead');
    expect(await bench.text('task-remarks')()).toBe('The trunk has no zero.');
    // A late live message is not newer than the final result.
    bench.send(told(leaning(9, 9), { stand: [STAND] }), { type: 'sensors', serverUtcMs: Date.now(), sensors: [] });
    expect(await bench.value('lean-pelvis')()).toBe('1.4');
  });

  test('one leg: the standing foot, the time held, corrections to both sides; what is not known is a dash', async () => {
    await open('single-leg-stand-right');
    finish('single-leg-stand-right', { singleLegStand: [ONE_LEG] });
    await bench.becomes(() => bench.at('standing-foot').getAttribute('data-side'), 'right');
    await has('standing-facts', 'Held without a step or a hop 7.4 s');
    await has('standing-facts', 'Free side of the pelvis 3.2° dropped');
    await has('standing-facts', 'Side-bend of the free side –');
    expect([await bench.text('corrections-left')(), await bench.text('corrections-right')()]).toEqual(['2', '5']);
  });

  test('a run-up: the last contacts on their sides with their times, and a take-off foot only when it is known', async () => {
    await open('run-up');
    const runUp = { startS: 0, endS: 5, lastStances: [2, 3], takeOff: null, landing: null };
    for (const id of [1, 2, 3]) {
      const one = stance(id, id === 2 ? 'left' : 'right', { contactTimeS: 0.1 * id });
      bench.send({ type: 'stance', trialId: 't1', stance: one, provisional: true, withdrawn: false });
    }
    const contacts = [{ t: 5, side: 'left', type: 'initial_contact', confidence: 1 } as const];
    keepTelling(() => told({ kind: 'run-up', contacts }, { runUp: [runUp] }));
    await has('newest-contact', 'Newest: left foot on the ground.');
    const marks = bench.at('task-view').getByTestId('stance-mark');
    await bench.becomes(
      () => marks.evaluateAll((all) => all.map((one) => `${one.dataset['id']} ${one.dataset['side']}`)),
      ['3 right', '2 left'],
    );
    expect((await marks.allInnerTexts()).map((words) => words.replace(/\s+/g, ' ').trim())).toEqual([
      'Right 0.300',
      'Left 0.200',
    ]);
    expect(await bench.text('task-view')()).toContain('No take-off yet.');
    clearInterval(repeat);
    const takeOff = {
      stanceId: 3,
      side: 'unknown',
      sidePosterior: null,
      t: 4,
      contactTimeS: null,
      flightTimeS: 0.41,
    } as const;
    finish(
      'run-up',
      { runUp: [{ ...runUp, takeOff, landing: LANDING }], remarks: ['Its foot is not known for sure.'] },
      { stances: [stance(2, 'left'), stance(3, 'right')] },
    );
    await has('take-off', 'side not known');
    await has('take-off-facts', 'Time on the ground – Flight 0.41 s');
    await has('landing-facts', 'Feet not marked Until quiet –');
    await has('landing-facts', 'Peak upward acceleration, pelvis 4.3 g Peak upward acceleration, sternum –');
    await has('task-view', 'It is no joint load.');
    await has('task-remarks', 'Its foot is not known for sure.');
    // Its stances are compared as well.
    expect(await bench.at('pair-focus').count()).toBe(1);
  });

  test('half-turns: separation now, the largest to both sides, and turns to the left facing those to the right', async () => {
    await open('half-turn');
    const now: TaskNow = { kind: 'half-turn', separationDeg: -8.2, largestSeparationDeg: { left: 3, right: 24.6 } };
    keepTelling(() => told(now, { halfTurn: [turn('right', 0.62), turn('left', 0.71)] }));
    await bench.becomes(bench.value('separation-now'), '-8.2');
    expect(await bench.page.locator('.lean').innerText()).toContain('chest turned to the right');
    expect([await bench.text('largest-left')(), await bench.text('largest-right')()]).toEqual(['3.0°', '24.6°']);
    const turns = bench.at('half-turn');
    await bench.becomes(
      () => turns.evaluateAll((all) => all.map((one) => one.dataset['direction'])),
      ['left', 'right'],
    );
    const [left, right] = await Promise.all([turns.nth(0).boundingBox(), turns.nth(1).boundingBox()]);
    expect(left!.x + left!.width).toBeLessThanOrEqual(right!.x);
    expect((await turns.nth(1).innerText()).replace(/\s+/g, ' ')).toContain(
      'Duration 0.62 s Separation out 21.4° pelvis ahead',
    );
    expect((await turns.nth(0).innerText()).replace(/\s+/g, ' ')).toContain('Peak rate, trunk –');
    expect(await bench.at('pair-focus').count()).toBe(0);
  });

  test('walking and running keep the pair and have no view of their own', async () => {
    await open('walk');
    await bench.at('pair-focus').waitFor();
    expect(await bench.at('task-view').count()).toBe(0);
  });
});
