/** `npm start` as a process of its own, to be killed or measured. */
import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { waitUntil } from './wait-until.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const { scripts } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
  scripts: { start: string };
};
/** What `npm start` gives to node. */
const START_ARGUMENTS = scripts.start.split(' ').slice(1);
const START_LIMIT_MS = 45_000;

export interface ServerProcess {
  pid: number;
  /** What it has logged so far. */
  output(): string;
  /** Where it listens; rejects when it ends before. */
  url(): Promise<string>;
  kill(signal: 'SIGKILL' | 'SIGTERM' | 'SIGINT'): Promise<number | null>;
  /** Exit code; null after a signal. */
  ended: Promise<number | null>;
}

export function startServerProcess(dataDir: string, port: number): ServerProcess {
  const child = spawn(process.execPath, START_ARGUMENTS, {
    cwd: ROOT,
    env: { PATH: process.env['PATH'], DATA_DIR: dataDir, PORT: String(port) },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let output = '';
  let exited = false;
  child.stdout.on('data', (data) => (output += String(data)));
  child.stderr.on('data', (data) => (output += String(data)));
  const ended = new Promise<number | null>((resolve) => child.once('close', resolve));
  void ended.then(() => (exited = true));
  return {
    pid: child.pid!,
    output: () => output,
    ended,
    kill: (signal) => {
      child.kill(signal);
      return ended;
    },
    url: () =>
      waitUntil(
        'the server listens',
        () => {
          const found = /the dashboard is at (http:[^"]+)/.exec(output)?.[1];
          if (!found && exited) throw new Error(`the server ended instead: ${output}`);
          return found ?? null;
        },
        START_LIMIT_MS,
      ),
  };
}
