/** Starts one PostgreSQL on a cluster, or takes over the one that runs there; ends it cleanly. */
import { spawn } from 'node:child_process';
import { open, readFile, stat, truncate } from 'node:fs/promises';
import { connect, createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { SetupError } from '../../errors.ts';
import type { PostgresBinaries } from './binaries.ts';
import { POSTGRES_ENVIRONMENT } from './cluster.ts';
import type { ClusterPaths } from './cluster.ts';
import { isAlive, readPostmaster } from './postmaster-file.ts';
import { commandAs, type RunAs } from './run-as.ts';

/** Longest wait for PostgreSQL to accept connections; recovery after a power loss happens within it. */
const READY_WAIT_MS_MAX = 120_000;
/** A start can fail because the port was just taken, or because remains of a crashed postmaster are still leaving. */
const START_ATTEMPTS_MAX = 5;
const RETRY_PAUSE_MS = 500;
const POLL_MS = 20;
/** A fast shutdown writes everything out; after this long it is ended at once and recovers at the next start. */
const STOP_WAIT_MS_MAX = 30_000;
const EXIT_WAIT_MS_MAX = 2000;
const LOG_BYTES_MAX = 10_000_000;
const LOG_TAIL_LINES = 8;

export interface Postmaster {
  pid: number;
  port: number;
  adopted: boolean;
}

/** @param port a fixed port, or null for a free one. Throws SetupError with the end of PostgreSQL's log. */
export async function startOrAdopt(
  paths: ClusterPaths,
  binaries: PostgresBinaries,
  runAs: RunAs,
  port: number | null,
): Promise<Postmaster> {
  for (let attempt = 0; attempt < START_ATTEMPTS_MAX; attempt++) {
    const present = await whenReady(paths, () => false);
    if (present) return { ...present, adopted: true };
    const started = await start(paths, binaries, runAs, port ?? (await freePort()));
    if (started) return { ...started, adopted: false };
    await sleep(RETRY_PAUSE_MS);
  }
  throw new SetupError(`PostgreSQL does not start on ${paths.data}. ${paths.log} ends with:\n${await logTail(paths)}`);
}

async function start(
  paths: ClusterPaths,
  binaries: PostgresBinaries,
  runAs: RunAs,
  port: number,
): Promise<{ pid: number; port: number } | null> {
  const log = await openLog(paths);
  try {
    const command = commandAs(runAs, binaries.postgres, ['-D', paths.data, ...settings(port)]);
    const child = spawn(command.file, command.args, {
      cwd: paths.folder,
      // Its own session: Ctrl-C in the terminal reaches the server only, which still has data to write.
      detached: true,
      stdio: ['ignore', log.fd, log.fd],
      env: POSTGRES_ENVIRONMENT,
      ...command.options,
    });
    let ended = false;
    child.once('exit', () => (ended = true));
    child.once('error', () => (ended = true));
    child.unref();
    const ready = await whenReady(paths, () => !ended);
    // Two servers that start at once: one postmaster wins, and both find that one.
    return ready;
  } finally {
    await log.close();
  }
}

function settings(port: number): string[] {
  const values = {
    port: String(port),
    listen_addresses: '127.0.0.1',
    unix_socket_directories: '',
    fsync: 'on',
    full_page_writes: 'on',
    synchronous_commit: 'on',
    timezone: 'UTC',
    log_timezone: 'UTC',
  };
  return Object.entries(values).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
}

/** Null when none runs on the cluster and `coming` says that none is on its way. */
async function whenReady(paths: ClusterPaths, coming: () => boolean): Promise<{ pid: number; port: number } | null> {
  const deadline = Date.now() + READY_WAIT_MS_MAX;
  while (Date.now() < deadline) {
    const onItsWay = coming();
    const found = await readPostmaster(paths.data);
    // Killed a moment ago, it still has its file and its process entry; what counts is that somebody listens.
    if (found?.status === 'ready' && found.port !== null && (await listens(found.port)))
      return { pid: found.pid, port: found.port };
    if (!found && !onItsWay) return null;
    await sleep(POLL_MS);
  }
  throw new SetupError(
    `PostgreSQL on ${paths.data} was not ready within ${READY_WAIT_MS_MAX / 1000} s. ${paths.log} ends with:\n${await logTail(paths)}`,
  );
}

export async function stopPostmaster(paths: ClusterPaths, pid: number): Promise<void> {
  for (const signal of ['SIGINT', 'SIGQUIT'] as const) {
    if (!isAlive(pid)) return;
    process.kill(pid, signal);
    if (await within(STOP_WAIT_MS_MAX, async () => !isAlive(pid) || (await readPostmaster(paths.data))?.pid !== pid)) {
      // It has given up the folder. Where nobody collects orphans, its process entry stays for good.
      await within(EXIT_WAIT_MS_MAX, () => !isAlive(pid));
      return;
    }
  }
  throw new Error(`PostgreSQL (process ${pid}) does not end; see ${paths.log}.`);
}

async function within(limitMs: number, check: () => boolean | Promise<boolean>): Promise<boolean> {
  const deadline = Date.now() + limitMs;
  while (Date.now() < deadline) {
    if (await check()) return true;
    await sleep(POLL_MS);
  }
  return false;
}

async function openLog(paths: ClusterPaths) {
  const size = await stat(paths.log).then(
    (found) => found.size,
    () => 0,
  );
  if (size > LOG_BYTES_MAX) await truncate(paths.log);
  return open(paths.log, 'a', 0o600);
}

async function logTail(paths: ClusterPaths): Promise<string> {
  const text = await readFile(paths.log, 'utf8').catch(() => '');
  return text.trimEnd().split('\n').slice(-LOG_TAIL_LINES).join('\n');
}

function listens(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(true);
    });
    socket.once('error', () => resolve(false));
  });
}

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve, reject) => server.once('error', reject).listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}
