/**
 * The demo as its user starts it, in a real browser: the page must show the virtual athlete's own one-sidedness, with the
 * right sign and size. What she really does is known exactly from the simulation, which shares no code with the analysis.
 */
import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { createServer, type AddressInfo } from 'node:net';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  demoScript,
  exampleAthlete,
  realistic,
  simulateSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { SEED } from '../../server/src/demo/people.ts';
import type { TrialSummary, TrialView } from '../../shared/src/index.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { waitUntil } from '../support/wait-until.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
/** Lead-in, stand and walk last 65 s; starting the database and analysing come on top. */
const DEMO_LIMIT_MS = 150_000;
/**
 * Two standard uncertainties of the frontal zero (docs/algorithms/mounting.md) show twice in a difference; the goal of
 * 0.5 deg for the method itself (DESIGN 8) comes on top.
 */
const DIFFERENCE_TOLERANCE_DEG = 2 * 0.6 + 0.5;

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return port;
}

function trueWalk(): Record<'swingSideDropDeg' | 'leanToStanceMeanDeg', number> {
  const { truth } = simulateSession({
    seed: SEED,
    athlete: exampleAthlete(SEED),
    script: demoScript(),
    sensors: { pelvis: realistic('pelvis', SEED), sternum: realistic('sternum', SEED) },
  });
  const difference = (key: 'swingSideDropDeg' | 'leanToStanceMeanDeg'): number => {
    const mean = (side: string): number => {
      const values = truth.stances.filter((s) => s.task === 'walk' && s.side === side).map((s) => s[key]);
      return values.reduce((a, b) => a + b, 0) / values.length;
    };
    return mean('left') - mean('right');
  };
  return { swingSideDropDeg: difference('swingSideDropDeg'), leanToStanceMeanDeg: difference('leanToStanceMeanDeg') };
}

describe.skipIf(CHROMIUM === undefined)('the demo in a browser (needs Chromium)', () => {
  let server: ChildProcess;
  let browser: Browser;
  let page: Page;
  let dataDir: Awaited<ReturnType<typeof makeTempDir>>;
  let address = '';
  let output = '';

  beforeAll(async () => {
    dataDir = await makeTempDir();
    const port = await freePort();
    server = spawn(process.execPath, ['--import', 'tsx', 'server/src/demo.ts'], {
      cwd: ROOT,
      env: { ...process.env, PORT: String(port), DATA_DIR: `${dataDir.folder}/demo`, HOST: '127.0.0.1' },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    server.stdout?.on('data', (text: Buffer) => (output += text.toString()));
    server.stderr?.on('data', (text: Buffer) => (output += text.toString()));
    address = await waitUntil('the demo prints its address', () => /http:\/\/\S+/.exec(output)?.[0] ?? null, 60_000);
    browser = await launchChromium();
    page = await browser.newPage({ viewport: { width: 1024, height: 768 } });
    await page.goto(address);
  }, 90_000);

  afterAll(async () => {
    await browser?.close();
    if (server && server.exitCode === null) {
      server.kill('SIGCONT');
      server.kill('SIGTERM');
      await once(server, 'exit');
    }
    await dataDir?.remove();
  }, 30_000);

  test(
    'shows stances of both sides and the athlete’s own left-right difference, live and final',
    async () => {
      const truth = trueWalk();
      expect(Math.sign(truth.swingSideDropDeg)).toBe(1);

      // Alive at once: both sensors stream and the tilts move before any trial.
      for (const place of ['pelvis', 'sternum']) {
        await page
          .locator(`[data-testid=sensor-state][data-place=${place}]`)
          .getByText(/live/)
          .waitFor({ timeout: 20_000 });
      }
      await waitUntil(
        'the trial is a walk with seven stances a side',
        async () => {
          const heading = await page.getByText(/^Walk, /).count();
          const row = page.locator('[data-testid=pair-row][data-metric=swingSideDropDeg]').first();
          if (heading === 0 || (await row.count()) === 0) return false;
          const n = await Promise.all(
            ['n-left', 'n-right'].map(async (id) =>
              Number(/\d+/.exec((await row.getByTestId(id).first().textContent()) ?? '')?.[0] ?? 0),
            ),
          );
          return Math.min(...n) >= 7;
        },
        DEMO_LIMIT_MS,
      );
      expect(await page.locator('[data-testid=stance-mark][data-side=left]').count()).toBeGreaterThan(0);
      expect(await page.locator('[data-testid=stance-mark][data-side=right]').count()).toBeGreaterThan(0);

      for (const metric of ['swingSideDropDeg', 'leanToStanceMeanDeg'] as const) {
        const cell = page
          .locator(`[data-testid=pair-row][data-metric=${metric}]`)
          .first()
          .getByTestId('difference')
          .first();
        const shown = Number(await cell.getAttribute('data-value'));
        expect(Math.sign(shown), `${metric} live`).toBe(Math.sign(truth[metric]));
        expect(Math.abs(shown - truth[metric]), `${metric} live`).toBeLessThan(DIFFERENCE_TOLERANCE_DEG);
      }

      const athlete = address.split('/').pop()!;
      const base = new URL(address).origin;
      const walk = await waitUntil(
        'the walk is final',
        async () => {
          const trials = (await (await fetch(`${base}/api/athletes/${athlete}/trials`)).json()) as TrialSummary[];
          return trials.find((t) => t.task === 'walk' && t.state === 'final') ?? null;
        },
        60_000,
      );
      const view = (await (await fetch(`${base}/api/trials/${walk.id}`)).json()) as TrialView;
      for (const metric of ['swingSideDropDeg', 'leanToStanceMeanDeg'] as const) {
        const stored = view.asymmetry[metric];
        expect(Math.min(stored?.left.n ?? 0, stored?.right.n ?? 0)).toBeGreaterThanOrEqual(7);
        expect(Math.abs((stored?.difference ?? NaN) - truth[metric]), `${metric} final`).toBeLessThan(
          DIFFERENCE_TOLERANCE_DEG,
        );
      }
    },
    DEMO_LIMIT_MS + 90_000,
  );

  test('says that everything on screen is old when the server falls silent with its socket open', async () => {
    server.kill('SIGSTOP');
    await page.getByTestId('stale-banner').waitFor({ state: 'visible', timeout: 10_000 });
  });
});
