/**
 * `npm run bench:load`: the server under a growing crowd. The server process is held to one core (taskset), its PostgreSQL and
 * the crowd to the others. Delay of a stance: from the toe-off to the message at a dashboard's socket.
 */
import { execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { firstKeeper } from '../../support/server-keeper.ts';
import { startServerProcess } from '../../support/server-process.ts';
import type { CrowdReport } from './report.ts';

const ROOT = fileURLToPath(new URL('../../..', import.meta.url));
const STEPS = process.argv[2]?.split(',').map(Number) ?? [10, 25, 50, 100];
const SLOW_VIEWERS = 5;
const POLL_MS = 500;

interface ServerUse {
  rssMaxMib: number;
  cpuS: number;
  seconds: number;
  loopP99Ms: number | null;
}

/** All threads of a process to one core; what it starts afterwards stays where it is sent. */
function pin(pid: number, core: string): void {
  execFileSync('taskset', ['-a', '-p', '-c', core, String(pid)], { stdio: 'ignore' });
}

function childrenOf(pid: number): number[] {
  const text = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim();
  return text === '' ? [] : text.split(' ').map(Number);
}

function rssMib(pid: number): number {
  return Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? 0) / 1024;
}

function cpuSeconds(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]!.split(' ');
  const TICKS_PER_S = 100;
  return (Number(fields[11]) + Number(fields[12])) / TICKS_PER_S;
}

/** The bucket of the server's own histogram that holds the 99th percentile: at most so late, ms. */
async function loopDelayMs(url: string): Promise<number | null> {
  const text = await (await fetch(`${url}/metrics`)).text();
  const buckets = [...text.matchAll(/^ambipede_event_loop_delay_seconds_bucket\{le="([^"]+)"\} (\d+)/gm)].map(
    ([, le, count]) => ({ le: Number(le === '+Inf' ? Infinity : le), count: Number(count) }),
  );
  const total = buckets.at(-1)?.count ?? 0;
  const found = buckets.find(({ count }) => total > 0 && count >= 0.99 * total);
  return found ? found.le * 1000 : null;
}

async function run(athletes: number, slowViewers: number): Promise<CrowdReport & ServerUse> {
  const dataDir = mkdtempSync(join(tmpdir(), 'ambipede-load-'));
  const server = startServerProcess(dataDir, 0);
  const { pid } = server;
  try {
    const url = await server.url();
    const { cookie } = await firstKeeper(url, dataDir);
    if (cpus().length > 1) {
      const others = `1-${cpus().length - 1}`;
      pin(pid, '0');
      for (const child of childrenOf(pid)) pin(child, others);
    }
    const began = performance.now();
    const cpuBefore = cpuSeconds(pid);
    const use = { rssMaxMib: 0, loopP99Ms: null as number | null };
    const poll = setInterval(() => {
      use.rssMaxMib = Math.max(use.rssMaxMib, rssMib(pid));
      loopDelayMs(url).then(
        (ms) => (use.loopP99Ms = ms ?? use.loopP99Ms),
        // Too busy to answer: the next time will tell.
        () => undefined,
      );
    }, POLL_MS);
    try {
      const report = await crowd(url, cookie, athletes, slowViewers);
      const seconds = (performance.now() - began) / 1000;
      return { ...report, ...use, cpuS: cpuSeconds(pid) - cpuBefore, seconds };
    } finally {
      clearInterval(poll);
    }
  } finally {
    await server.kill('SIGTERM');
    rmSync(dataDir, { recursive: true, force: true });
  }
}

function crowd(url: string, cookie: string, athletes: number, slowViewers: number): Promise<CrowdReport> {
  const child = spawn(
    process.execPath,
    ['--import', 'tsx', 'tests/bench/load/crowd.ts', url, cookie, String(athletes), String(slowViewers)],
    { cwd: ROOT, stdio: ['ignore', 'pipe', 'inherit'] },
  );
  if (cpus().length > 1) pin(child.pid!, `1-${cpus().length - 1}`);
  let text = '';
  child.stdout.on('data', (data) => (text += String(data)));
  return new Promise((resolve, reject) => {
    child.once('close', (code) => {
      if (code === 0) resolve(JSON.parse(text) as CrowdReport);
      else reject(new Error(`The crowd ended with ${code}.`));
    });
  });
}

function quantile(sorted: readonly number[], share: number): number {
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? NaN;
}

console.log(
  `${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores, Node ${process.version}; 200 Hz, 2 sensors and 1 dashboard an athlete`,
);
console.log(
  'athletes slow viewers (cut off) | stances  ms after toe-off p50  p90  p99  share within 250 ms | server CPU of a core  RSS MiB  loop p99 at most, ms | samples acknowledged  reconnects | crowd CPU',
);
for (const [athletes, slowViewers] of [...STEPS.map((n) => [n, 0]), [STEPS.at(-1)!, SLOW_VIEWERS]] as const) {
  const r = await run(athletes!, slowViewers!);
  const delays = r.delaysMs.sort((a, b) => a - b);
  const within = delays.filter((ms) => ms <= 250).length / delays.length;
  console.log(
    [
      `${athletes} ${slowViewers} (${r.slowViewersCutOff})`,
      `${delays.length}  ${[0.5, 0.9, 0.99].map((q) => quantile(delays, q).toFixed(0)).join('  ')}  ${(within * 100).toFixed(2)} %`,
      `${((r.cpuS / r.seconds) * 100).toFixed(0)} %  ${r.rssMaxMib.toFixed(0)}  ${r.loopP99Ms?.toFixed(0) ?? '?'}`,
      `${r.acknowledged} of ${r.sampled}  ${r.reconnects}`,
      `${((r.crowdCpuS / r.seconds) * 100).toFixed(0)} %`,
    ].join(' | '),
  );
}
