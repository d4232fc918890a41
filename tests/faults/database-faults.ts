/** What can happen to the database, each as a thing to do to a rig while sensors stream. */
import { waitUntil } from '../support/wait-until.ts';
import { acknowledgedWhileLive, postgresProcesses, restartPostgres, type DatabaseRig } from './database-rig.ts';
import type { SmallDisk } from './full-disk.ts';

/** How long a fault lasts, in seconds of samples on the dashboard. */
const FAULT_S = 1.5;

/** Of samples, while the database could not take any. More than 0: the server says safe what is not. */
type AcknowledgedMeanwhile = number;

export async function stopAndStart(rig: DatabaseRig): Promise<AcknowledgedMeanwhile> {
  let meanwhile = NaN;
  await restartPostgres(rig, async () => {
    meanwhile = await acknowledgedWhileLive(rig, FAULT_S);
  });
  await rig.caughtUp();
  return meanwhile;
}

export async function killPostgres(rig: DatabaseRig): Promise<void> {
  const pid = rig.postgres.pid();
  process.kill(pid, 'SIGKILL');
  await waitUntil('PostgreSQL runs again', () => rig.postgres.pid() !== pid);
  await rig.caughtUp();
}

/** Connections stay open and nothing answers: a database that is slow beyond measure. */
export async function freezePostgres(rig: DatabaseRig): Promise<AcknowledgedMeanwhile> {
  const pids = await postgresProcesses(rig.postgres.pid());
  const signal = (name: 'SIGSTOP' | 'SIGCONT'): void => pids.forEach((pid) => process.kill(pid, name));
  signal('SIGSTOP');
  try {
    return await acknowledgedWhileLive(rig, FAULT_S);
  } finally {
    signal('SIGCONT');
    await rig.caughtUp();
  }
}

/**
 * Resolves when acknowledgements have stopped, live went on meanwhile, and all has recovered. On a full disk PostgreSQL still
 * commits what fits into the files that it has: now and then a group gets through, is safe and is acknowledged.
 */
export async function fillDisk(rig: DatabaseRig, disk: SmallDisk): Promise<void> {
  const logged = rig.api.log.length;
  await disk.fill();
  try {
    const isNoticed = (): boolean => rig.api.log.slice(logged).some((line) => line.includes('No space left on device'));
    await waitUntil('the disk is noticed', isNoticed);
    await waitUntil('acknowledgements stop', async () => (await acknowledgedWhileLive(rig, FAULT_S)) === 0);
  } finally {
    await disk.free();
    await rig.caughtUp();
  }
}
