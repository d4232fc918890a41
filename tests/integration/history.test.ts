/** The history of sessions, from stored trials to the answer of the API. */
import { describe, expect, test } from 'vitest';
import type { ApiError, AthleteSummary, SessionHistory } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { changeTrial } from '../../server/src/store/trials.ts';
import { storeSession, type StoredTrial } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOBODY = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));

const newAthlete = async () => (await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Somebody' }, 201)).id;
const historyOf = (id: string, query = 'task=run&metric=swingSideDropDeg') =>
  api.call<SessionHistory>('GET', `/api/athletes/${id}/session-history?${query}`);

const addSession = (athleteId: string, startUtcMs: number, trials: StoredTrial[]) =>
  storeSession(database, athleteId, startUtcMs, trials);

describe('the history of an athlete', () => {
  test('has one difference per session, of this task alone, with trials and stances counted', async () => {
    const athleteId = await newAthlete();
    const later = await addSession(athleteId, 2000, [{ task: 'run', difference: 3 }]);
    const first = await addSession(athleteId, 1000, [
      { task: 'run', difference: 1 },
      { task: 'run', difference: 2 },
      { task: 'walk', difference: 40 },
    ]);
    await addSession(await newAthlete(), 1500, [{ task: 'run', difference: 70 }]);
    const { sessions } = await historyOf(athleteId);
    expect(sessions).toMatchObject([
      { sessionId: first.sessionId, utcMs: 1000, version: 'test-1', trials: 2, n: { left: 16, right: 14 } },
      { sessionId: later.sessionId, utcMs: 2000, version: 'test-1', trials: 1, n: { left: 8, right: 7 } },
    ]);
    expect(sessions[0]!.difference).toBeCloseTo(1.5, 12);
    expect(sessions[1]!.difference).toBeCloseTo(3, 12);
  });

  test('is without discarded trials and those that have no final result', async () => {
    const athleteId = await newAthlete();
    const { trialIds } = await addSession(athleteId, 1000, [
      { task: 'run', difference: 1 },
      { task: 'run', difference: 9 },
      { task: 'run', difference: 9 },
    ]);
    await changeTrial(database.db, trialIds[1]!, { discarded: true });
    await database.sql`update trials set state = 're-analysing' where id = ${trialIds[2]!}`;
    expect((await historyOf(athleteId)).sessions).toMatchObject([{ trials: 1, difference: 1 }]);
    await database.sql`update trials set state = 'final' where id = ${trialIds[2]!}`;
  });

  test('brings the annotations, and takes the baseline before the injury', async () => {
    const athleteId = await newAthlete();
    for (const day of [1, 2, 3, 4]) await addSession(athleteId, day * 1000, [{ task: 'run', difference: day }]);
    const injury = { kind: 'injury', atUtcMs: 3500, authorName: 'Ruta', side: 'right' };
    const annotation = await api.call('POST', `/api/athletes/${athleteId}/annotations`, injury, 201);
    const { annotations, baseline } = await historyOf(athleteId);
    expect(annotations).toEqual([annotation]);
    expect(baseline).toMatchObject({ basis: 'before the injury', sessions: 3 });
    expect(baseline.mean).toBeCloseTo(2, 12);
  });

  test('is empty for somebody new, and for nobody 404', async () => {
    expect((await historyOf(await newAthlete())).sessions).toEqual([]);
    const path = `/api/athletes/${NOBODY}/session-history?task=run&metric=swingSideDropDeg`;
    expect((await api.call<ApiError>('GET', path, undefined, 404)).error.message).toContain('no such athlete');
  });

  test.each([
    ['metric=swingSideDropDeg', 'must have task'],
    ['task=landing&metric=swingSideDropDeg', 'task must be one of walk, run, strides, run-up'],
    ['task=run&metric=speed', 'metric must be one of'],
  ])('asked with %s says what to ask instead', async (query, expected) => {
    const path = `/api/athletes/${await newAthlete()}/session-history?${query}`;
    expect((await api.call<ApiError>('GET', path, undefined, 400)).error.message).toContain(expected);
  });
});
