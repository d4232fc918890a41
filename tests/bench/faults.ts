/**
 * `npm run bench:faults`: what is lost when things break. Each row is done for real: processes are killed, a disk is full,
 * sockets are half open. Takes about a quarter of an hour; `faults.ts 10 42` does 10 kills with seed 42.
 *
 * What it cannot show: a loss of power. kill -9 leaves what the operating system has not yet written to its disk cache alone;
 * that a commit survives the loss of that cache is for PostgreSQL's fsync, which is on and checked at every start.
 */
import path from 'node:path';
import { fillDisk, freezePostgres, killPostgres, stopAndStart } from '../faults/database-faults.ts';
import { startDatabaseRig, type DatabaseRig } from '../faults/database-rig.ts';
import type { FaultResult } from '../faults/fault-result.ts';
import { mountSmallDisk } from '../faults/full-disk.ts';
import { badRadio, minuteWithoutRadio, rebootInTrial } from '../faults/sensor-faults.ts';
import { runKills } from '../faults/server-kills.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { startTestPostgres } from '../support/test-postgres.ts';

const KILLS = 100;
const POSTGRES_EVERY = 5;
const REPEATS = 5;

const kills = Number(process.argv[2] ?? KILLS);
const seed = Number(process.argv[3] ?? 1);
const rows: FaultResult[] = [];

function report(row: FaultResult): void {
  rows.push(row);
  const { fault, tried, acknowledged, lost } = row;
  const numbers = [tried, acknowledged, lost].map((value, i) => String(value).padStart([6, 22, 6][i] ?? 0));
  console.log(`${fault.padEnd(58)}${numbers.join('')}`);
}

/** @param work does the fault a number of times and returns how many samples were acknowledged that could not be safe */
async function withDatabase(
  fault: string,
  folder: string,
  tried: number,
  work: (rig: DatabaseRig) => Promise<number>,
): Promise<void> {
  const rig = await startDatabaseRig(path.join(folder, 'data'));
  try {
    let unsafe = 0;
    for (let i = 0; i < tried; i++) unsafe += await work(rig);
    const result = await rig.finish(fault, tried);
    report({ ...result, lost: result.lost + unsafe });
  } finally {
    await rig.close();
  }
}

async function inTempDir(fault: string, tried: number, work: (rig: DatabaseRig) => Promise<number>): Promise<void> {
  const dir = await makeTempDir();
  await withDatabase(fault, dir.folder, tried, work).finally(dir.remove);
}

console.log(`${'fault'.padEnd(58)}${' tried'}${'acknowledged samples'.padStart(22)}${'lost'.padStart(6)}`);

const run = await runKills({ kills, seed, postgresEvery: POSTGRES_EVERY });
report({ ...run, fault: `kill -9 of the server, ${run.postgresKills} of them with PostgreSQL` });

await inTempDir('kill -9 of PostgreSQL under the server', REPEATS, async (rig) => {
  await killPostgres(rig);
  return 0;
});
await inTempDir('PostgreSQL stopped and started', REPEATS, stopAndStart);
await inTempDir('PostgreSQL frozen (SIGSTOP)', REPEATS, freezePostgres);

const disk = await mountSmallDisk();
if (disk) {
  await withDatabase('disk full (a tmpfs without a free byte)', disk.folder, REPEATS, async (rig) => {
    await fillDisk(rig, disk);
    return 0;
  });
  await disk.remove();
} else {
  console.log('disk full: not tried, since only root may mount a small disk');
}

const server = await startTestPostgres();
try {
  report(await minuteWithoutRadio(await server.newDatabase()));
  const spans = Array.from({ length: REPEATS }, (_, i) => ({ startS: 2 + 4 * i, endS: 4 + 4 * i }));
  report(await badRadio(await server.newDatabase(), 'radio away for 2 s', spans));
  const slow = spans.map((span) => ({ ...span, kind: 'slow' as const, delayMs: 400 }));
  report(await badRadio(await server.newDatabase(), 'frames up to 0.4 s late', slow));
  const dead = [{ startS: 2, endS: 14, kind: 'dead' as const }];
  report(await badRadio(await server.newDatabase(), 'half-open connections', dead));
  const lost = Array.from({ length: REPEATS }, () => ({ memory: 'lost' as const, offS: 0.3 }));
  const reboots = await rebootInTrial(await server.newDatabase(), lost);
  report({ ...reboots, fault: `reboot in a trial, memory lost (${reboots.dropped} reported)` });
  const kept = lost.map((each) => ({ ...each, memory: 'kept' as const }));
  report({ ...(await rebootInTrial(await server.newDatabase(), kept)), fault: 'reboot in a trial, memory kept' });
} finally {
  await server.stop();
}

const total = rows.reduce((sum, { lost }) => sum + lost, 0);
console.log(
  `\nlost: samples that no device reported as lost and that are not in the store as measured. In all: ${total}.`,
);
