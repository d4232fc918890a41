/** Recordings from files, through the whole server: what comes out is what the recording itself gives. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  exampleAthlete,
  realistic,
  simulateSession,
  writeMotionBids,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type {
  AnalysisResult,
  AthleteSummary,
  CsvImport,
  ImportAnswer,
  SessionView,
  TrialView,
} from '../../shared/src/index.ts';
import { analyseRecording } from '../../server/src/analysis.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import type { Database } from '../../server/src/store/database.ts';
import { ledInSession } from '../support/led-in-session.ts';
import { coachSession, type CoachedSession } from '../support/coached-session.ts';
import { COMMAS_MAPPING, csvOf } from '../support/csv-of.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

const SEED = 31;
const SPEED = 5;
const DAY_MS = 86_400_000;
const movement = ledInSession(
  SEED,
  { kind: 'run', seconds: 15, cadencePerMin: 165, speedMps: 3.2 },
  { kind: 'pause', seconds: 4 },
);
const run = movement.marks.find(({ kind }) => kind === 'run')!;
const firstS = Math.min(movement.streams.pelvis.tS[0]!, movement.streams.sternum!.tS[0]!);
const marks: CsvImport['marks'] = movement.marks.map(({ kind, startS, endS }) => ({
  kind: kind === 'run' ? 'task' : (kind as 'reference_stand'),
  startS: startS - firstS,
  endS: endS - firstS,
}));

let server: TestPostgres;
let database: Database;
let api: TestApp;
let played: CoachedSession;
const folder = mkdtempSync(join(tmpdir(), 'imports-'));

beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  api = await startTestApp(database, { nowUtcMs: makeFastClock(SPEED).nowUtcMs });
}, 120_000);
afterAll(async () => {
  played?.viewer.socket.terminate();
  await api?.close();
  await server?.stop();
  rmSync(folder, { recursive: true });
});

const newAthlete = (name: string): Promise<AthleteSummary> =>
  api.call<AthleteSummary>('POST', '/api/athletes', { name, bodyMassKg: 58 });
const final = ({ trials }: ImportAnswer): Promise<TrialView> =>
  waitUntil('the imported trial is final', async () => {
    const view = await api.call<TrialView>('GET', `/api/trials/${trials[0]!.id}`);
    return view.state === 'final' || view.state === 'failed' ? view : null;
  });
const resultOf = async (id: string): Promise<string> => (await fetch(`${api.url}/api/trials/${id}/result`)).text();

async function importTar(athleteId: string, bytes: Uint8Array, query = ''): Promise<ImportAnswer> {
  const response = await fetch(`${api.url}/api/athletes/${athleteId}/imports/motion-bids${query}`, {
    method: 'POST',
    headers: { 'content-type': 'application/x-tar' },
    body: Buffer.from(bytes),
  });
  const text = await response.text();
  if (response.status !== 201) throw new Error(`${response.status} ${text}`);
  return JSON.parse(text) as ImportAnswer;
}

describe('a table of values in g and deg/s, with decimal commas and semicolons', () => {
  let trial: TrialView;
  let answer: ImportAnswer;
  let direct: AnalysisResult;

  beforeAll(async () => {
    const recording = join(folder, 'direct');
    writeMotionBids(movement, recording, { task: 'run' });
    direct = analyseRecording({ ...(await readRecording(recording)), spanS: [run.startS, run.endS] });
    const { id } = await newAthlete('Ida Importer');
    const { pelvis, sternum } = movement.streams;
    const sensor = (place: 'pelvis' | 'sternum', text: string) => ({
      place,
      fileName: `${place}.csv`,
      text,
      mapping: COMMAS_MAPPING,
    });
    answer = await api.call<ImportAnswer>('POST', `/api/athletes/${id}/imports/csv`, {
      task: 'run',
      startedUtcMs: Date.now() - 30 * DAY_MS,
      sensors: [sensor('pelvis', csvOf(pelvis)), sensor('sternum', csvOf(sternum!))],
      oneClock: true,
      marks,
    } satisfies CsvImport);
    trial = await final(answer);
  }, 60_000);

  test('gives the stances of the recording itself, side by side and moment by moment', () => {
    expect(trial).toMatchObject({
      state: 'final',
      problem: null,
      importedFrom: 'pelvis.csv, sternum.csv',
      bodyMassKg: 58,
    });
    expect(trial.stances.length).toBeGreaterThan(30);
    expect(trial.stances.map(({ side }) => side)).toEqual(direct.stances.map(({ side }) => side));
    trial.stances.forEach(({ initialContact, swingSideDropDeg }, i) => {
      expect(Math.abs(initialContact + firstS - direct.stances[i]!.initialContact)).toBeLessThan(0.002);
      expect(Math.abs(swingSideDropDeg! - direct.stances[i]!.swingSideDropDeg!)).toBeLessThan(0.1);
    });
  });

  test('leaves left left: every stance has the side of the simulated foot', () => {
    for (const stance of trial.stances) {
      const at = stance.initialContact + firstS;
      const foot = movement.truth.stances.reduce((a, b) =>
        Math.abs(a.initialContact - at) < Math.abs(b.initialContact - at) ? a : b,
      );
      expect(stance.side).toBe(foot.side);
    }
  });

  test('is an ended session with its lead-in, whose raw samples belong to the athlete and to no sensor', async () => {
    const session = await api.call<SessionView>('GET', `/api/sessions/${answer.sessionId}`);
    expect(session.endedUtcMs! - session.startedUtcMs).toBeGreaterThan(36_000);
    expect(session.leadIn.map(({ step }) => step)).toEqual(['reference_stand', 'forward_bow']);
    expect(session.importedFrom).toBe('pelvis.csv, sternum.csv');
    const [stored] = await database.sql`
      select sum(count)::int as samples, bool_and(athlete_id = ${session.athleteId}) as owned from raw_batches
      where starts_with(device_id, 'import:')`;
    expect(stored).toEqual({
      samples: movement.streams.pelvis.tS.length + movement.streams.sternum!.tS.length,
      owned: true,
    });
    const sensors = await api.call<{ deviceId: string }[]>('GET', '/api/sensors');
    expect(sensors.filter(({ deviceId }) => deviceId.startsWith('import'))).toEqual([]);
  });

  test('is analysed again from what is stored, to the same bytes', async () => {
    const text = await resultOf(trial.id);
    expect((JSON.parse(text) as AnalysisResult).stances).toEqual(trial.stances);
    expect(await resultOf(trial.id)).toBe(text);
  });

  test('sent a second time is refused, because it would count twice', async () => {
    const { athleteId } = answer.trials[0]!;
    const exported = new Uint8Array(
      await (await fetch(`${api.url}/api/trials/${trial.id}/export/motion-bids`)).arrayBuffer(),
    );
    await expect(importTar(athleteId, exported)).rejects.toThrow(/409.*already-there.*discard/);
  });
});

describe('an export of our own, imported for another athlete', () => {
  test('gives the result of the trial that was streamed, byte for byte', async () => {
    played = await coachSession(api, movement, {
      speed: SPEED,
      prefix: 'imports',
      details: { name: 'Sven Streamed', bodyMassKg: 61.3 },
    });
    const streamed = played.trials[0]!;
    const tar = new Uint8Array(
      await (await fetch(`${api.url}/api/trials/${streamed.id}/export/motion-bids`)).arrayBuffer(),
    );
    const { id } = await newAthlete('Otto Other');
    const answer = await importTar(id, tar, '?fileName=own.tar');
    const imported = await final(answer);
    expect(answer.remarks).toEqual([]);
    expect(imported.stances).toEqual(streamed.stances);
    expect(imported.asymmetry).toEqual(streamed.asymmetry);
    expect(imported.bodyMassKg).toBe(61.3);
    expect(await resultOf(imported.id)).toBe(await resultOf(streamed.id));
  }, 60_000);
});

describe('a Motion-BIDS folder from elsewhere, packed by the system with two clocks of their own', () => {
  test('gives as many stances on each side as the command that reads the folder', async () => {
    const apart = simulateSession({
      seed: SEED,
      athlete: exampleAthlete(SEED),
      script: [
        { kind: 'reference_stand', seconds: 5 },
        { kind: 'forward_bow', seconds: 9 },
        { kind: 'pause', seconds: 2 },
        { kind: 'run', seconds: 15, cadencePerMin: 165, speedMps: 3.2 },
        { kind: 'pause', seconds: 4 },
      ],
      sensors: {
        pelvis: realistic('pelvis', SEED),
        sternum: realistic('sternum', SEED, { clock: { offsetS: 2.5, skewPpm: 20, phaseS: 0.001 } }),
      },
    });
    const recording = join(folder, 'apart');
    // The simulation is dated ahead of today; a scans file of the past takes its place in the query.
    writeMotionBids(apart, recording, { task: 'run', startErrorS: 0.2 });
    execFileSync('tar', ['-cf', join(folder, 'apart.tar'), '-C', folder, 'apart']);
    const { id } = await newAthlete('Asta Apart');
    const query = `?startedUtcMs=${Date.now() - 20 * DAY_MS}`;
    const trial = await final(await importTar(id, readFileSync(join(folder, 'apart.tar')), query));
    const run = apart.marks.find(({ kind }) => kind === 'run')!;
    const direct = analyseRecording({ ...(await readRecording(recording)), spanS: [run.startS, run.endS] });
    const sides = (stances: readonly { side: string }[]) => stances.map(({ side }) => side);
    expect(sides(trial.stances)).toEqual(sides(direct.stances));
    const lean = (stances: readonly { leanToStanceMeanDeg: number | null }[]) =>
      stances.reduce((sum, each) => sum + (each.leanToStanceMeanDeg ?? 0), 0) / stances.length;
    expect(Math.abs(lean(trial.stances) - lean(direct.stances))).toBeLessThan(0.1);
  }, 60_000);
});
