/** The server is killed in the middle of everything: what it acknowledged is there, and it goes on. */
import { readFile } from 'node:fs/promises';
import path from 'node:path';
import postgres from 'postgres';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { countAt } from '../../firmware-protocol/src/sample-payload.ts';
import type { SensorEnrolment, SessionView, TrialSummary } from '../../shared/src/index.ts';
import { isAlive } from '../../server/src/store/embedded-postgres/postmaster-file.ts';
import { newAthleteOf, type Person } from '../support/people.ts';
import { firstKeeper } from '../support/server-keeper.ts';
import { startServerProcess } from '../support/server-process.ts';
import type { ServerProcess } from '../support/server-process.ts';
import { carries, countingSource, numberOf } from '../support/counting-source.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { waitUntil } from '../support/wait-until.ts';

const RATE_HZ = 200;
const DEVICE = 'restart-pelvis';

let dir: Awaited<ReturnType<typeof makeTempDir>>;
let dataDir: string;
let first: ServerProcess;
let second: ServerProcess | null = null;
let url: string;
let keeper: Person;
let sensor: VirtualSensor;
beforeAll(async () => {
  dir = await makeTempDir();
  dataDir = path.join(dir.folder, 'data');
  first = startServerProcess(dataDir, 0);
  url = await first.url();
  keeper = await firstKeeper(url, dataDir);
}, 60_000);
afterAll(async () => {
  await sensor?.stop();
  await first?.kill('SIGKILL');
  // A clean stop takes PostgreSQL along; if the test broke off before, a new server does that.
  second ??= startServerProcess(dataDir, 0);
  await second.url().catch(() => undefined);
  await second.kill('SIGTERM');
  await dir.remove();
}, 90_000);

async function postmaster(): Promise<{ pid: number; port: number }> {
  const lines = (await readFile(path.join(dataDir, 'postgres', 'cluster', 'postmaster.pid'), 'utf8')).split('\n');
  return { pid: Number(lines[0]), port: Number(lines[3]) };
}

/** The number that each stored sample carries in its turn rate, in order of the sequence. */
async function storedSamples(): Promise<{ sequence: number; number: number }[]> {
  const password = await readFile(path.join(dataDir, 'postgres', 'password'), 'utf8');
  const { port } = await postmaster();
  const sql = postgres({ host: '127.0.0.1', port, user: 'ambipede', database: 'postgres', password, max: 1 });
  const rows = await sql`select first_sequence, count, payload, gyro_scale from raw_batches order by first_sequence`;
  await sql.end();
  return rows.flatMap((row) => {
    const payload = row['payload'] as Buffer;
    const view = new DataView(payload.buffer, payload.byteOffset, payload.byteLength);
    return Array.from({ length: Number(row['count']) }, (_, i) => ({
      sequence: Number(row['first_sequence']) + i,
      number: numberOf(countAt(view, i, 5) * Number(row['gyro_scale'])),
    }));
  });
}

describe('a server that is killed', () => {
  let trial: TrialSummary;
  let acknowledged = 0;
  let killedUtcMs = 0;
  let postgresPid = 0;

  test('had acknowledged samples of a running trial by then', async () => {
    const athleteId = await newAthleteOf(keeper, 'Test athlete');
    await keeper.call('PUT', `/api/sensors/${DEVICE}`, { athleteId, place: 'pelvis' });
    const session = await keeper.call<SessionView>('POST', '/api/sessions', { athleteId });
    sensor = startVirtualSensor({
      deviceId: DEVICE,
      token: (await keeper.call<SensorEnrolment>('POST', `/api/sensors/${DEVICE}/enrolment`)).token,
      url: `${url.replace('http', 'ws')}/ingest`,
      rateHz: RATE_HZ,
      source: countingSource(),
    });
    trial = await keeper.call<TrialSummary>('POST', `/api/sessions/${session.id}/trials`, { task: 'stand' });
    await waitUntil('two seconds are acknowledged', () => sensor.state().acknowledged > 2 * RATE_HZ);
  });

  test('meanwhile keeps a second one off its folder, and is not disturbed by it', async () => {
    const intruder = startServerProcess(dataDir, 0);
    expect(await intruder.ended).toBe(1);
    expect(intruder.output()).toMatch(/Another Ambipede server \(process \d+\) already uses the data folder/);
    expect((await fetch(`${url}/healthz`)).status).toBe(200);
  });

  test('leaves PostgreSQL running, and the next start takes it over', async () => {
    postgresPid = (await postmaster()).pid;
    await first.kill('SIGKILL');
    killedUtcMs = Date.now();
    acknowledged = sensor.state().acknowledged;
    expect(isAlive(postgresPid)).toBe(true);
    second = startServerProcess(dataDir, Number(new URL(url).port));
    expect(await second.url()).toBe(url);
    expect(second.output()).toContain('took over the running PostgreSQL');
    expect((await postmaster()).pid).toBe(postgresPid);
  });

  test('has lost no acknowledged sample, and the sensor goes on where it was', async () => {
    expect((await storedSamples()).length).toBeGreaterThanOrEqual(acknowledged);
    await waitUntil('more is acknowledged', () => sensor.state().acknowledged > acknowledged + RATE_HZ);
    const end = await sensor.stop();
    expect(end).toMatchObject({ dropped: 0, connections: 2 });
    expect(end.acknowledged).toBe(end.sampled);
    const stored = await storedSamples();
    expect(stored.map((sample) => sample.sequence)).toEqual(Array.from({ length: end.sampled }, (_, i) => i));
    expect(stored.every(({ sequence, number }) => carries(sequence, number))).toBe(true);
  });

  test('closes the trial that ran at its last sample', async () => {
    const closed = await waitUntil('the trial is done', async () => {
      const found = await keeper.call<TrialSummary>('GET', `/api/trials/${trial.id}`);
      return found.state === 'final' || found.state === 'failed' ? found : null;
    });
    expect(closed.endedUtcMs).toBeGreaterThan(trial.startedUtcMs + 1000);
    expect(closed.endedUtcMs).toBeLessThanOrEqual(killedUtcMs);
    expect(closed).toMatchObject({ state: 'final', stanceCount: { left: 0, right: 0 } });
  });

  test('ends with everything that it started when it is told to stop', async () => {
    expect(await second!.kill('SIGTERM')).toBe(0);
    expect(isAlive(postgresPid)).toBe(false);
  });
});
