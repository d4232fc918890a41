/** Where the time of a page goes: by kind of work from Chromium's trace, by function from its sampling profiler. */
import type { Browser, CDPSession, Page } from 'playwright-core';

const LOOK_MS = 5000;
const ROWS_MAX = 18;
const KINDS = [
  'Layout',
  'UpdateLayoutTree',
  'PrePaint',
  'Paint',
  'Layerize',
  'Commit',
  'FireAnimationFrame',
  'TimerFire',
  'MinorGC',
  'MajorGC',
  'HitTest',
];

type Table = Record<string, number>;

const wait = () => new Promise((done) => setTimeout(done, LOOK_MS));
const perSecond = (ms: number): number => Number((ms / (LOOK_MS / 1000)).toFixed(1));

/** Kind of work to ms per second, nested work counted in both. */
export async function taskTimes(browser: Browser, page: Page): Promise<Table> {
  await browser.startTracing(page, { categories: ['devtools.timeline', 'toplevel', 'v8'] });
  await wait();
  const trace = JSON.parse((await browser.stopTracing()).toString()) as {
    traceEvents: { name: string; ph: string; dur?: number; pid: number; args: { data?: { frame?: string } } }[];
  };
  const sums = new Map<string, number>();
  for (const { name, ph, dur = 0 } of trace.traceEvents)
    if (ph === 'X' && KINDS.includes(name)) sums.set(name, (sums.get(name) ?? 0) + dur / 1000);
  return sorted(sums);
}

/** Function and place in the built file to ms per second of its own, without what it calls. */
export async function scriptTimes(cdp: CDPSession): Promise<Table> {
  await cdp.send('Profiler.enable');
  await cdp.send('Profiler.setSamplingInterval', { interval: 500 });
  await cdp.send('Profiler.start');
  await wait();
  const { profile } = await cdp.send('Profiler.stop');
  const names = new Map(
    profile.nodes.map(({ id, callFrame: { functionName, url, lineNumber, columnNumber } }) => [
      id,
      `${functionName || '(anonymous)'} ${url.split('/').at(-1) ?? ''}:${lineNumber}:${columnNumber}`,
    ]),
  );
  const sums = new Map<string, number>();
  for (const [i, id] of (profile.samples ?? []).entries()) {
    const name = names.get(id)!;
    if (!name.startsWith('(idle)')) sums.set(name, (sums.get(name) ?? 0) + (profile.timeDeltas?.[i] ?? 0) / 1000);
  }
  return sorted(sums);
}

function sorted(sums: ReadonlyMap<string, number>): Table {
  const rows = [...sums].sort(([, a], [, b]) => b - a).slice(0, ROWS_MAX);
  return Object.fromEntries(rows.map(([name, ms]) => [name, perSecond(ms)]));
}
