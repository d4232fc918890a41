/**
 * `npm run bench:frames`: how many frames the live page drops on a processor four times slower than this one (Chromium's own
 * throttling), two athletes' pages at once, against an empty page that runs beside them. `--profile` adds where the time goes.
 */
import { readFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import type { CDPSession, Page } from 'playwright-core';
import { launchChromium } from '../browser/chromium.ts';
import { firstLoad } from '../browser/first-load.ts';
import { answerAll, ASYMMETRY } from '../browser/page-answers.ts';
import { showScene } from '../browser/page-scenes.ts';
import { stanceOf, startWorld, type World } from '../browser/page-world.ts';
import { scriptTimes, taskTimes } from './frames-profile.ts';

const DIST = fileURLToPath(new URL('../../web/dist', import.meta.url));
const SLOWER = 4;
const ATHLETES = 2;
const REPEATS = 7;
const REPEAT_MS = 8000;
const SETTLE_MS = 12_000;
/** At 60 Hz a frame takes 16.7 ms; above this one at least was dropped. */
const LATE_MS = 25;
const STANCE_PERIOD_MS = 350;
const METRICS_PERIOD_MS = 500;

interface Frames {
  latePercent: number;
  p99Ms: number;
  perSecond: number;
}

/** As text: tsx would put helpers into a function that the page does not have. */
const COLLECT = `new Promise((done) => {
  const seen = [];
  requestAnimationFrame(function next(now) {
    seen.push(now);
    if (now - seen[0] < ${REPEAT_MS}) requestAnimationFrame(next);
    else done(seen);
  });
})`;

/** Frames of one page, as its own requestAnimationFrame sees them. */
async function framesOf(page: Page): Promise<Frames> {
  const times = await page.evaluate<number[]>(COLLECT);
  const gaps = times
    .slice(1)
    .map((time, i) => time - times[i]!)
    .sort((a, b) => a - b);
  return {
    latePercent: (100 * gaps.filter((gap) => gap > LATE_MS).length) / gaps.length,
    p99Ms: gaps[Math.floor(0.99 * gaps.length)]!,
    perSecond: (1000 * gaps.length) / (times.at(-1)! - times[0]!),
  };
}

/** Angles move all the time, a stance ends every third of a second, all metrics are told twice a second. */
function keepBusy(world: World): () => void {
  let id = 100;
  const timers = [
    setInterval(() => {
      const turn = (Date.now() / 700) * 2 * Math.PI;
      world.now.obliquityDeg = 4 * Math.sin(turn);
      world.now.trunkTiltDeg = 3 * Math.sin(turn + 0.6);
    }, 20),
    setInterval(() => {
      const stance = stanceOf(id, id % 2 === 0 ? 'left' : 'right', { swingSideDropDeg: 3 + (id % 5) / 2 });
      id += 1;
      world.server.send({ type: 'stance', trialId: 't5', stance, provisional: true, withdrawn: false });
    }, STANCE_PERIOD_MS),
    setInterval(
      () => world.server.send({ type: 'asymmetry', trialId: 't5', provisional: true, metrics: ASYMMETRY }),
      METRICS_PERIOD_MS,
    ),
  ];
  return () => timers.forEach(clearInterval);
}

function median(values: number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]!;
}

const browser = await launchChromium();
const stops: (() => unknown)[] = [];

async function open(show: (page: Page) => Promise<unknown>): Promise<{ page: Page; cdp: CDPSession }> {
  const context = await browser.newContext({ viewport: { width: 1180, height: 820 }, serviceWorkers: 'block' });
  const page = await context.newPage();
  const cdp = await context.newCDPSession(page);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: SLOWER });
  await show(page);
  return { page, cdp };
}

const lives = [];
for (let i = 0; i < ATHLETES; i++) {
  const world = await startWorld();
  answerAll(world);
  lives.push(await open((page) => showScene(page, world, 'live')));
  stops.push(keepBusy(world), () => world.close());
}
const empty = await open((page) => page.setContent('<p>empty</p>'));
await new Promise((done) => setTimeout(done, SETTLE_MS));

const live: Frames[] = [];
const beside: Frames[] = [];
for (let i = 0; i < REPEATS; i++) {
  const [blank, ...shown] = await Promise.all([empty, ...lives].map(({ page }) => framesOf(page)));
  beside.push(blank!);
  live.push(...shown);
}

const firstLoadBytes = firstLoad(DIST).reduce(
  (sum, file) => sum + gzipSync(readFileSync(join(DIST, file)), { level: 9 }).length,
  0,
);

const row = (frames: Frames[]) => ({
  'late frames, %': Number(median(frames.map((f) => f.latePercent)).toFixed(2)),
  'frame, 99th percentile, ms': Number(median(frames.map((f) => f.p99Ms)).toFixed(1)),
  'frames a second': Number(median(frames.map((f) => f.perSecond)).toFixed(1)),
});
console.log(`${cpus()[0]!.model}, ${cpus().length} cores, Chromium ${browser.version()}, ${SLOWER}x throttled`);
console.log(`${ATHLETES} athletes, median of ${REPEATS} x ${REPEAT_MS / 1000} s; late: over ${LATE_MS} ms`);
console.table({ 'live page': row(live), 'empty page beside it': row(beside) });
console.log(`First load: ${firstLoadBytes} bytes gzipped (goal: under 150000)`);

if (process.argv.includes('--profile')) {
  const { page, cdp } = lives[0]!;
  console.log('Where the time of one live page goes, ms per second of this processor throttled:');
  console.table(await taskTimes(browser, page));
  console.log('Of its scripts, by file of the source where the build knows it:');
  console.table(await scriptTimes(cdp));
}
for (const stop of stops) await stop();
await browser.close();
