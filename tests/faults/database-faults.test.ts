/** The database stops, freezes, dies or has no room: acknowledgements stop, the live view goes on, nothing is lost. */
import path from 'node:path';
import { afterEach, describe, expect, test } from 'vitest';
import { makeTempDir } from '../support/temp-dir.ts';
import { waitUntil } from '../support/wait-until.ts';
import { fillDisk, freezePostgres, killPostgres, stopAndStart } from './database-faults.ts';
import { startDatabaseRig, type DatabaseRig } from './database-rig.ts';
import { mountSmallDisk } from './full-disk.ts';

/** Samples that make a try worth its name. */
const ENOUGH = 1000;

let rig: DatabaseRig | null = null;
let cleanUp: (() => Promise<void>)[] = [];
afterEach(async () => {
  await rig?.close();
  rig = null;
  for (const each of cleanUp.reverse()) await each();
  cleanUp = [];
});

async function rigInTempDir(): Promise<DatabaseRig> {
  const dir = await makeTempDir();
  cleanUp.push(dir.remove);
  return startDatabaseRig(path.join(dir.folder, 'data'));
}

describe('a database that', () => {
  test('freezes, dies, and is stopped and started costs no sample', async () => {
    rig = await rigInTempDir();
    expect(await freezePostgres(rig)).toBe(0);
    await killPostgres(rig);
    expect(await stopAndStart(rig)).toBe(0);
    const result = await rig.finish('PostgreSQL away', 3);
    expect(result.lost).toBe(0);
    expect(result.acknowledged).toBeGreaterThan(ENOUGH);
  });

  test('has no room left on its disk costs no sample, and goes on by itself when there is room', async ({ skip }) => {
    const disk = await mountSmallDisk();
    if (!disk) return skip('a small disk can be mounted by root only');
    cleanUp.push(disk.remove);
    rig = await startDatabaseRig(path.join(disk.folder, 'data'));
    await fillDisk(rig, disk);
    const { acknowledged } = rig;
    await waitUntil('it goes on', () => acknowledged() > ENOUGH);
    const result = await rig.finish('disk full', 1);
    expect(result.lost).toBe(0);
    expect(result.acknowledged).toBeGreaterThan(ENOUGH);
  });
});
