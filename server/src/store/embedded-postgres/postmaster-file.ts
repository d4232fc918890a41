/** Reads `postmaster.pid`, by which a running PostgreSQL says that a data folder is taken. */
import { readFile, realpath } from 'node:fs/promises';
import path from 'node:path';

export interface Postmaster {
  pid: number;
  /** Loopback port; null while it is still being set up. */
  port: number | null;
  status: 'starting' | 'ready' | 'stopping';
}

/**
 * The PostgreSQL that runs on this data folder, or null. A file left by a process that is gone counts as none, and so
 * does one copied along from another folder.
 * Line by line the file holds: pid, data folder, start time, port, socket folder, listen address, shared memory, status
 * (PostgreSQL 18, src/include/utils/pidfile.h).
 */
export async function readPostmaster(dataFolder: string): Promise<Postmaster | null> {
  const text = await readFile(path.join(dataFolder, 'postmaster.pid'), 'utf8').catch(() => null);
  if (text === null) return null;
  const lines = text.split('\n').map((line) => line.trim());
  const pid = Number(lines[0]);
  if (!Number.isInteger(pid) || pid <= 1 || !isAlive(pid)) return null;
  const here = await realpath(dataFolder);
  const there = await realpath(lines[1] ?? '').catch(() => lines[1]);
  if (there !== here) return null;
  const port = Number(lines[3]);
  const status = lines[7] === 'ready' ? 'ready' : lines[7] === 'stopping' ? 'stopping' : 'starting';
  return { pid, port: Number.isInteger(port) && port > 0 ? port : null, status };
}

export function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    // EPERM: it exists and belongs to somebody else.
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
