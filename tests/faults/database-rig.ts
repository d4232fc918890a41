/** A rig on a PostgreSQL of its own that can be hurt. */
import { readFile, readdir } from 'node:fs/promises';
import path from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { connect, migrateDatabase } from '../../server/src/store/database.ts';
import { reachableBinaries } from '../../server/src/store/embedded-postgres/binaries.ts';
import { clusterPaths } from '../../server/src/store/embedded-postgres/cluster.ts';
import { startOrAdopt, stopPostmaster } from '../../server/src/store/embedded-postgres/postmaster.ts';
import { chooseRunAs, withReach } from '../../server/src/store/embedded-postgres/run-as.ts';
import { startEmbeddedPostgres } from '../../server/src/store/embedded-postgres/supervisor.ts';
import type { EmbeddedPostgres } from '../../server/src/store/embedded-postgres/supervisor.ts';
import { waitUntil } from '../support/wait-until.ts';
import { RATE_HZ, startRig, type Rig } from './rig.ts';

/** What was sent before the fault may still be acknowledged for so long. */
const LAST_ACKNOWLEDGEMENTS_MS = 300;
const quiet = { info: () => undefined, error: () => undefined };

export interface DatabaseRig extends Rig {
  dataDir: string;
  postgres: EmbeddedPostgres;
}

export async function startDatabaseRig(dataDir: string): Promise<DatabaseRig> {
  const postgres = await startEmbeddedPostgres(dataDir, quiet);
  const database = connect(postgres.url);
  let inner;
  try {
    await migrateDatabase(postgres.url);
    inner = await startRig(database);
  } catch (error) {
    await database.close();
    await postgres.stop();
    throw error;
  }
  const close = inner.close;
  const rig: DatabaseRig = {
    ...inner,
    dataDir,
    postgres,
    close: async () => {
      await close();
      await database.close();
      await rig.postgres.stop();
    },
  };
  return rig;
}

/** With the fault on: resolves when the dashboard has `seconds` more of samples; how many were acknowledged meanwhile. */
export async function acknowledgedWhileLive(rig: Rig, seconds: number): Promise<number> {
  await sleep(LAST_ACKNOWLEDGEMENTS_MS);
  const before = { acknowledged: rig.acknowledged(), live: rig.seenLive() };
  await waitUntil('live goes on', () => rig.seenLive() > before.live + seconds * RATE_HZ);
  return rig.acknowledged() - before.acknowledged;
}

/** Ends PostgreSQL as an administrator would, and starts it again on the same port. */
export async function restartPostgres(rig: DatabaseRig, whileAway: () => Promise<void>): Promise<void> {
  const paths = clusterPaths(rig.dataDir);
  const user = await chooseRunAs(paths.folder);
  const binaries = await reachableBinaries(user);
  const port = Number(new URL(rig.postgres.url).port);
  const pid = rig.postgres.pid();
  // Else the supervisor would start it again at once.
  rig.postgres.leave();
  await stopPostmaster(paths, pid);
  try {
    await whileAway();
  } finally {
    await startOrAdopt(paths, binaries, await withReach(user, paths.folder), port);
    rig.postgres = await startEmbeddedPostgres(rig.dataDir, quiet);
  }
}

/** All processes of the PostgreSQL whose postmaster this is. */
export async function postgresProcesses(postmaster: number): Promise<number[]> {
  const pids = (await readdir('/proc')).filter((name) => /^\d+$/.test(name)).map(Number);
  const children = await Promise.all(pids.map(async (pid) => ((await parentOf(pid)) === postmaster ? pid : null)));
  return [postmaster, ...children.filter((pid) => pid !== null)];
}

async function parentOf(pid: number): Promise<number> {
  const stat = await readFile(path.join('/proc', String(pid), 'stat'), 'utf8').catch(() => '');
  // The name in brackets may hold anything; after it come state and parent (proc(5)).
  return Number(stat.slice(stat.lastIndexOf(')') + 2).split(' ')[1]);
}
