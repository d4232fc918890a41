/** Choosing, starting and stopping a trial; tags and note after it; and a connection that drops while it runs. */
import { COACH_TASKS, TRIAL_TAGS_MAX, type Task, type TrialChange } from '@ambipede/shared';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { suggestNext } from '../../web/src/trial/ladder.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { SESSION, TrialBench, asymmetry, running, stance, trialView } from './web-trial-page.ts';

describe('the next task', () => {
  const after = (last: Task, ...done: Task[]) => suggestNext(last, new Set([last, ...done]));

  test('is the other side of the same rung before the next rung, whichever side came first', () => {
    expect(after('single-leg-stand-left')).toBe('single-leg-stand-right');
    expect(after('single-leg-stand-right')).toBe('single-leg-stand-left');
    expect(after('single-leg-stand-right', 'single-leg-stand-left')).toBe('walk');
    expect(after('landing-both', 'landing-right')).toBe('landing-left');
  });

  test('climbs the whole ladder from simple to hard and ends at the top', () => {
    const climbed: Task[] = ['stand'];
    for (let next = after('stand'); next !== null; next = suggestNext(next, new Set(climbed))) climbed.push(next);
    expect(new Set(climbed)).toEqual(new Set(COACH_TASKS.map(({ task }) => task)));
    expect(climbed).toHaveLength(COACH_TASKS.length);
    expect(climbed.filter((task) => ['walk', 'run', 'strides', 'run-up'].includes(task))).toEqual([
      'walk',
      'run',
      'strides',
      'run-up',
    ]);
    expect(after('half-turn')).toBeNull();
  });
});

describe.skipIf(CHROMIUM === undefined)('a trial on the live page', () => {
  let browser: Browser;
  let bench: TrialBench;

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());
  afterEach(() => bench.close());

  /** Bodies of the changes, in the order in which they came; each is answered after `answer` has said how. */
  async function takeChanges(answer: (change: TrialChange) => Promise<number> | number): Promise<TrialChange[]> {
    const taken: TrialChange[] = [];
    let stored = trialView('run');
    await bench.page.route('**/api/trials/t1', async (route) => {
      if (route.request().method() !== 'PATCH') return route.fallback();
      const change = route.request().postDataJSON() as TrialChange;
      taken.push(change);
      const status = await answer(change);
      if (status === 200) stored = { ...stored, ...change };
      const error = { code: 'stored-not', message: 'The disk is full: make room.' };
      return route.fulfill({ status, json: status === 200 ? stored : { error } });
    });
    return taken;
  }

  /** A run that has just been stopped. */
  async function stopped(more: Parameters<typeof trialView>[1] = {}): Promise<void> {
    bench = await TrialBench.open(browser, running('run'));
    bench.stop(trialView('run', more));
    await bench.at('aftercare').waitFor();
  }

  const pressed = () =>
    bench.page
      .locator('[data-testid="tag"][aria-pressed="true"]')
      .evaluateAll((tags) => tags.map((tag) => tag.textContent));

  test('every task of a coach is offered from simple to hard, marked ones as the feet lie, at least 48 px high', async () => {
    bench = await TrialBench.open(browser, SESSION);
    const offered = await bench
      .at('task-choice')
      .evaluateAll((inputs) => inputs.map((input) => (input as HTMLInputElement).value));
    expect(offered).toEqual([
      ...['stand', 'single-leg-stand-left', 'single-leg-stand-right', 'walk', 'run', 'strides', 'run-up'],
      ...['landing-left', 'landing-both', 'landing-right', 'half-turn'],
    ]);
    for (const task of offered as Task[]) {
      const box = await bench.task(task).locator('xpath=..').boundingBox();
      expect(Math.min(box!.height, box!.width), task).toBeGreaterThanOrEqual(48);
    }
  });

  test('the arrow keys choose, and the start button names the foot; one tap starts it, one tap stops it', async () => {
    bench = await TrialBench.open(browser, SESSION);
    const posts: string[] = [];
    bench.page.on('request', (request) => {
      if (request.method() === 'POST') posts.push(`${new URL(request.url()).pathname} ${request.postData() ?? ''}`);
    });
    await bench.task('single-leg-stand-left').focus();
    await bench.page.keyboard.press('ArrowRight');
    await bench.becomes(
      async () => (await bench.text('trial-start')()).replace(/\s+/g, ' '),
      'Start: Single-leg stand Right',
    );
    expect(posts).toEqual([]);
    const started = trialView('single-leg-stand-right', { state: 'running', endedUtcMs: null });
    bench.server.answers.set('POST /api/sessions/s1/trials', started);
    await bench.at('trial-start').click();
    await bench.becomes(async () => posts, ['/api/sessions/s1/trials {"task":"single-leg-stand-right"}']);
    bench.become(running('single-leg-stand-right'));
    await bench.becomes(async () => (await bench.text('trial-running')()).includes('right foot'), true);
    await bench.at('trial-stop').click();
    await bench.becomes(async () => posts.length, 2);
    expect(posts[1]).toContain('/api/trials/t1/stop');
  });

  test('after a trial the next rung is offered and does not start by itself', async () => {
    bench = await TrialBench.open(browser, running('stand'));
    const posts: string[] = [];
    bench.page.on('request', (request) => {
      if (request.method() === 'POST') posts.push(request.postData() ?? '');
    });
    bench.stop(trialView('stand'));
    await bench.becomes(
      async () => (await bench.text('trial-start-next')()).replace(/\s+/g, ' '),
      'Next: Single-leg stand Left',
    );
    await bench.becomes(() => bench.at('task-view').getAttribute('data-state'), 'final');
    expect(posts).toEqual([]);
    bench.server.answers.set('POST /api/sessions/s1/trials', trialView('single-leg-stand-left', { id: 't2' }));
    await bench.at('trial-start-next').click();
    await bench.becomes(async () => posts, ['{"task":"single-leg-stand-left"}']);
  });

  test('a task for which somebody has to stand by says so before it starts', async () => {
    bench = await TrialBench.open(browser, SESSION);
    await bench.task('walk').check();
    expect(await bench.page.getByText('With a spotter').count()).toBe(0);
    await bench.task('landing-left').check();
    await bench.page.getByText('With a spotter').waitFor();
  });

  test('rapid changes go out one at a time in their order, and the last word holds', async () => {
    await stopped();
    let release = (): void => undefined;
    let under = 0;
    let most = 0;
    const changes = await takeChanges(async () => {
      most = Math.max(most, ++under);
      await new Promise<void>((done) => (release = done));
      under -= 1;
      return 200;
    });
    const tap = (tag: string) => bench.page.getByTestId('tag').getByText(tag, { exact: true }).click();
    await tap('slipped');
    await bench.becomes(async () => changes.length, 1);
    await tap('tired');
    await bench.at('trial-discard').click();
    await tap('slipped');
    expect(await pressed()).toEqual(['tired']);
    expect(changes).toEqual([{ tags: ['slipped'] }]);
    release();
    await bench.becomes(async () => changes.length, 2);
    release();
    await bench.becomes(() => bench.at('aftercare').getAttribute('data-state'), 'clean');
    expect(changes).toEqual([{ tags: ['slipped'] }, { tags: ['tired'], discarded: true }]);
    expect(most).toBe(1);
    expect(await pressed()).toEqual(['tired']);
    expect(await bench.text('aftercare-status')()).toBe('Saved');
  });

  test('a change that fails is said and not lost, not even by opening the page again, and is sent when asked for', async () => {
    await stopped();
    let status = 500;
    const changes = await takeChanges(() => status);
    await bench.at('trial-note').fill('Left knee felt warm');
    await bench.at('trial-note').blur();
    await bench.becomes(
      async () => (await bench.text('aftercare-problem')()).includes('The disk is full: make room.'),
      true,
    );
    expect(await bench.at('trial-note').inputValue()).toBe('Left knee felt warm');
    expect(await bench.text('aftercare-status')()).toBe('Not saved yet');

    await bench.page.goto(`${bench.server.address}/#/trial/t1`);
    await bench.page.reload();
    await bench.at('aftercare-problem').waitFor();
    expect(await bench.at('trial-note').inputValue()).toBe('Left knee felt warm');
    const before = changes.length;
    status = 200;
    await bench.page.getByText('Save now').click();
    await bench.at('aftercare-problem').waitFor({ state: 'detached' });
    expect(changes.slice(before)).toEqual([{ note: 'Left knee felt warm' }]);
    await bench.page.reload();
    await bench.at('aftercare').waitFor();
    expect(await bench.at('aftercare-problem').count()).toBe(0);
  });

  test('own words become a tag, up to as many as a trial holds', async () => {
    const tags = Array.from({ length: TRIAL_TAGS_MAX - 1 }, (_, i) => `word ${i}`);
    await stopped({ tags });
    const changes = await takeChanges(() => 200);
    await bench.at('own-tag').fill('  wind from behind ');
    await bench.page.keyboard.press('Enter');
    await bench.becomes(async () => changes, [{ tags: [...tags, 'wind from behind'] }]);
    await bench.page.getByText('Take one off').waitFor();
    expect(await bench.page.getByTestId('tag').getByText('slipped').isDisabled()).toBe(true);
  });

  test('a discarded trial says what that means, and is taken back with a tap', async () => {
    await stopped({ discarded: true });
    const changes = await takeChanges(() => 200);
    await bench.page.getByText('Discarded: it is left out of the history. All its data is kept.').waitFor();
    await bench.at('trial-discard').click();
    await bench.becomes(async () => changes, [{ discarded: false }]);
    expect(await bench.at('aftercare').getAttribute('data-discarded')).toBe('false');
  });

  test('the history names a discarded trial as left out, not as one without a value', async () => {
    bench = await TrialBench.open(browser, SESSION);
    bench.server.answers.set('GET /api/athletes/a1/trials', [
      trialView('run', { discarded: true }),
      trialView('run', { id: 't2' }),
    ]);
    bench.server.answers.set('GET /api/athletes/a1/history', []);
    await bench.page.goto(`${bench.server.address}/#/history/a1`);
    const row = (id: string) => bench.page.locator(`[data-testid="history-row"][data-id="${id}"]`);
    await bench.becomes(async () => (await row('t1').innerText()).includes('discarded, left out'), true);
    expect(await row('t2').innerText()).toContain('not measured');
  });

  test('after a drop the stances are those told again, and numbers that are not told again do not stay', async () => {
    bench = await TrialBench.open(browser, running('run'));
    const told = (id: number, side: 'left' | 'right') =>
      ({ type: 'stance', trialId: 't1', stance: stance(id, side), provisional: true, withdrawn: false }) as const;
    const sides = () =>
      bench
        .at('stance-mark')
        .evaluateAll((marks) => marks.map((mark) => `${mark.dataset['id']} ${mark.dataset['side']}`));
    bench.send(told(1, 'left'), told(2, 'right'));
    bench.send({ type: 'asymmetry', trialId: 't1', provisional: true, metrics: { swingSideDropDeg: asymmetry(8) } });
    await bench.at('pair-row').waitFor();
    await bench.becomes(sides, ['2 right', '1 left']);
    const greet = bench.server.greeting;
    // Stance 2 was withdrawn meanwhile, 3 and 4 came; the comparison has not been made again yet.
    bench.server.greeting = () => [...greet(), told(1, 'left'), told(3, 'right'), told(4, 'left')];
    await bench.reconnect();
    await bench.becomes(sides, ['4 left', '3 right', '1 left']);
    expect(await bench.at('pair-row').count()).toBe(0);
    expect(await bench.text('focus-left')()).toBe('–');
  });
});
