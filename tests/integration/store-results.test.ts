import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { changeAthlete, createAthlete, findAthlete, listAthletes } from '../../server/src/store/athletes.ts';
import type { Database } from '../../server/src/store/database.ts';
import { placeSensor } from '../../server/src/store/sensors.ts';
import {
  createSession,
  endSession,
  listMountings,
  saveMounting,
  sessionDevices,
} from '../../server/src/store/sessions.ts';
import { failTrial, saveResult } from '../../server/src/store/save-result.ts';
import {
  changeTrial,
  closeTrial,
  createTrial,
  findWaveforms,
  listHistory,
  listTrialsOfAthlete,
  viewTrial,
} from '../../server/src/store/trials.ts';
import { makeAsymmetry, makeResult, makeStance } from '../support/sample-result.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';

const COMPLETE = { dataComplete: true, problem: null };

let server: TestPostgres;
let database: Database;
beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
});
afterAll(() => server.stop());

describe('stored results', () => {
  const newTrial = async (startedUtcMs = 1000) => {
    const athlete = await createAthlete(database.db, 'Somebody', 0);
    const session = await createSession(database.db, athlete.id, { pelvis: 'p', sternum: 's' }, 500);
    const { id: trialId } = await createTrial(database.db, session, 'run', startedUtcMs);
    await closeTrial(database.db, trialId, startedUtcMs + 9000);
    return { athleteId: athlete.id, sessionId: session.id, trialId };
  };

  test('come back as they were made', async () => {
    const { trialId, athleteId, sessionId } = await newTrial();
    const { waveforms, ...result } = makeResult();
    await saveResult(database.db, trialId, { ...result, waveforms }, COMPLETE);
    expect(await findWaveforms(database.db, trialId)).toEqual({ trialId, version: 'test-1', waveforms });
    expect(await viewTrial(database.db, trialId)).toEqual({
      id: trialId,
      sessionId,
      athleteId,
      importedFrom: null,
      task: 'run',
      state: 'final',
      startedUtcMs: 1000,
      endedUtcMs: 10_000,
      stanceCount: { left: 2, right: 1 },
      problem: null,
      bodyMassKg: null,
      tags: [],
      note: '',
      discarded: false,
      ...result,
    });
  });

  test('replace the ones before, and are gone after a failure', async () => {
    const { trialId, athleteId } = await newTrial();
    await saveResult(database.db, trialId, makeResult(), COMPLETE);
    await saveResult(database.db, trialId, { ...makeResult(), stances: [makeStance(9, 'right')] }, COMPLETE);
    expect((await viewTrial(database.db, trialId))?.stances.map((stance) => stance.id)).toEqual([9]);
    await failTrial(database.db, trialId, { problem: 'broken', dataComplete: true });
    const failed = await viewTrial(database.db, trialId);
    expect(failed).toMatchObject({ state: 'failed', problem: 'broken', stances: [], asymmetry: {}, version: null });
    expect(failed?.taskSummary).toBeNull();
    expect(await findWaveforms(database.db, trialId)).toBeNull();
    expect(await listHistory(database.db, athleteId, 'swingSideDropDeg')).toEqual([]);
  });

  test('are all or nothing: a stance that cannot be stored leaves the result of before', async () => {
    const { trialId } = await newTrial();
    await saveResult(database.db, trialId, makeResult(), COMPLETE);
    const twice = { ...makeResult(), version: 'test-2', stances: [makeStance(1, 'left'), makeStance(1, 'left')] };
    await expect(saveResult(database.db, trialId, twice, COMPLETE)).rejects.toThrow();
    expect(await viewTrial(database.db, trialId)).toMatchObject({ version: 'test-1', stances: makeResult().stances });
  });

  test('make a history per metric, oldest first, of this athlete only', async () => {
    const { athleteId, sessionId, trialId } = await newTrial(2000);
    await saveResult(database.db, trialId, makeResult(), COMPLETE);
    const { id: earlier } = await createTrial(database.db, { id: sessionId, athleteId }, 'walk', 1500);
    await closeTrial(database.db, earlier, 1600);
    const other = makeAsymmetry({ difference: -1 });
    await saveResult(database.db, earlier, { ...makeResult(), asymmetry: { swingSideDropDeg: other } }, COMPLETE);
    await newTrial(1700);
    expect(await listHistory(database.db, athleteId, 'swingSideDropDeg')).toEqual([
      { trialId: earlier, task: 'walk', utcMs: 1500, version: 'test-1', asymmetry: other },
      { trialId, task: 'run', utcMs: 2000, version: 'test-1', asymmetry: makeAsymmetry() },
    ]);
    expect(await listHistory(database.db, athleteId, 'dutyFactor')).toEqual([]);
    expect((await listTrialsOfAthlete(database.db, athleteId)).map((trial) => trial.id)).toEqual([trialId, earlier]);
  });
});

describe('a discarded trial', () => {
  test('is left out of the history and loses nothing: taken back, it is there again', async () => {
    const athlete = await createAthlete(database.db, 'Somebody', 0);
    const session = await createSession(database.db, athlete.id, {}, 1);
    const { id: trialId } = await createTrial(database.db, session, 'run', 2, 60);
    await saveResult(database.db, trialId, makeResult(), COMPLETE);
    const history = () => listHistory(database.db, athlete.id, 'swingSideDropDeg');
    const before = [await viewTrial(database.db, trialId), await history()];
    expect(await changeTrial(database.db, trialId, { discarded: true })).toBe(true);
    expect(await history()).toEqual([]);
    expect(await listTrialsOfAthlete(database.db, athlete.id)).toMatchObject([{ id: trialId, discarded: true }]);
    expect((await viewTrial(database.db, trialId))?.stances).toEqual(makeResult().stances);
    await changeTrial(database.db, trialId, { discarded: false });
    expect([await viewTrial(database.db, trialId), await history()]).toEqual(before);
  });

  test('stays so when it is analysed again, and keeps its tags, its note and its body mass', async () => {
    const athlete = await createAthlete(database.db, 'Somebody', 0, { bodyMassKg: 60 });
    const session = await createSession(database.db, athlete.id, {}, 1);
    const { id: trialId } = await createTrial(database.db, session, 'run', 2, 60);
    const kept = { tags: ['wet', 'spikes'], note: 'slipped', discarded: true };
    await changeTrial(database.db, trialId, kept);
    await saveResult(database.db, trialId, makeResult(), COMPLETE);
    await changeAthlete(database.db, athlete.id, { bodyMassKg: 70 });
    expect(await viewTrial(database.db, trialId)).toMatchObject({ ...kept, bodyMassKg: 60 });
  });
});

describe('the database itself refuses', () => {
  test.each([{ bodyMassKg: 14.99 }, { bodyMassKg: 250.01 }, { bodyMassKg: NaN }])(
    'a body mass that nobody has: %j',
    async (details) => {
      await expect(createAthlete(database.db, 'Somebody', 0, details)).rejects.toThrow();
    },
  );

  test('a second open session of an athlete', async () => {
    const { id } = await createAthlete(database.db, 'Somebody', 0);
    const first = await createSession(database.db, id, {}, 1);
    await expect(createSession(database.db, id, {}, 2)).rejects.toThrow();
    await endSession(database.db, first.id, 3);
    await createSession(database.db, id, {}, 4);
  });

  test('a second running trial of a session', async () => {
    const { id } = await createAthlete(database.db, 'Somebody', 0);
    const session = await createSession(database.db, id, {}, 1);
    await createTrial(database.db, session, 'run', 1);
    await expect(createTrial(database.db, session, 'walk', 2)).rejects.toThrow();
  });

  test('two sensors at one place of one athlete', async () => {
    const { id } = await createAthlete(database.db, 'Somebody', 0);
    await placeSensor(database.db, 'first', id, 'pelvis');
    await expect(placeSensor(database.db, 'second', id, 'pelvis')).rejects.toThrow();
    await placeSensor(database.db, 'second', id, 'sternum');
  });
});

describe('the store keeps', () => {
  test('which sensors a session has and how they sit, as last found', async () => {
    const { id } = await createAthlete(database.db, 'Somebody', 0);
    const session = await createSession(database.db, id, { pelvis: 'p', sternum: 's' }, 1);
    expect(await sessionDevices(database.db, session.id)).toEqual({ pelvis: 'p', sternum: 's' });
    const report = {
      source: 'lead-in',
      quaternion: [0.5, -0.5, 0.5, 0.5],
      frontalUncertaintyDeg: 0.6,
      remarks: ['Bow again.'],
      details: { bows: 3 },
    } as const;
    await saveMounting(database.db, session.id, 'pelvis', { ...report, quaternion: null, remarks: [] });
    await saveMounting(database.db, session.id, 'pelvis', {
      ...report,
      quaternion: [...report.quaternion],
      remarks: [...report.remarks],
    });
    expect(await listMountings(database.db, session.id)).toEqual({ pelvis: report });
  });

  test('athletes in the order of their names, each with its trials counted', async () => {
    const own = await server.newDatabase();
    const b = await createAthlete(own.db, 'B', 0);
    const a = await createAthlete(own.db, 'A', 0);
    const session = await createSession(own.db, b.id, {}, 1);
    await closeTrial(own.db, (await createTrial(own.db, session, 'run', 7)).id, 8);
    await createTrial(own.db, session, 'run', 9);
    expect(await listAthletes(own.db)).toEqual([
      { ...a, openSessionId: null, lastTrialUtcMs: null, trialCount: 0 },
      { ...b, openSessionId: session.id, lastTrialUtcMs: 9, trialCount: 2 },
    ]);
    expect(await findAthlete(own.db, b.id)).toMatchObject({ id: b.id, trialCount: 2 });
  });
});
