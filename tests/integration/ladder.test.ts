/** From task to task and from session to session, over the API. */
import { describe, expect, test } from 'vitest';
import type {
  ApiError,
  AthleteSummary,
  SessionComparison,
  SingleLegStand,
  TaskLadder,
} from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { changeTrial } from '../../server/src/store/trials.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOBODY = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));

const newAthlete = async () => (await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Somebody' }, 201)).id;
const refusal = async (path: string, status: number) =>
  (await api.call<ApiError>('GET', path, undefined, status)).error.message;

describe('the ladder of an athlete', () => {
  const of = (id: string) => api.call<TaskLadder>('GET', `/api/athletes/${id}/ladder?metric=swingSideDropDeg`);
  const stand = (side: SingleLegStand['side'], swingSideHeightDeg: number): SingleLegStand => ({
    ...{ startS: 1, endS: 9, side, heldS: 8, swingSideHeightDeg, leanToStanceDeg: null, sideBendDeg: null },
    ...{ sway: { pelvis: null, trunk: null }, corrections: null },
  });

  test('has each task once, in order, from what is stored of this athlete', async () => {
    const athleteId = await newAthlete();
    await storeSession(database, athleteId, 1000, [
      { task: 'single-leg-stand-left', taskSummary: { singleLegStand: [stand('left', -3)] } },
      { task: 'single-leg-stand-right', taskSummary: { singleLegStand: [stand('right', 1)] } },
      { task: 'run', difference: 9 },
    ]);
    const { sessionId } = await storeSession(database, athleteId, 2000, [{ task: 'run', difference: 4 }]);
    await storeSession(database, await newAthlete(), 3000, [{ task: 'walk', difference: 70 }]);
    expect((await of(athleteId)).rungs).toMatchObject([
      { task: 'stand', state: 'not measured' },
      { task: 'single-leg-stand', state: 'difference of stands', utcMs: 1000, difference: 4, n: { left: 1, right: 1 } },
      { task: 'walk', state: 'not measured' },
      { task: 'run', state: 'difference', sessionId, utcMs: 2000, difference: 4, n: { left: 8, right: 7 } },
      { task: 'strides', state: 'not measured' },
      { task: 'run-up', state: 'not measured' },
    ]);
  });

  test('is without discarded trials', async () => {
    const athleteId = await newAthlete();
    const { trialIds } = await storeSession(database, athleteId, 1000, [
      { task: 'single-leg-stand-left', taskSummary: { singleLegStand: [stand('left', -3), stand('right', 1)] } },
    ]);
    expect((await of(athleteId)).rungs[1]!.state).toBe('difference of stands');
    await changeTrial(database.db, trialIds[0]!, { discarded: true });
    expect((await of(athleteId)).rungs[1]!.state).toBe('not measured');
  });

  test('of nobody is 404, and of no metric says what to ask', async () => {
    expect(await refusal(`/api/athletes/${NOBODY}/ladder?metric=stepTimeS`, 404)).toContain('no such athlete');
    expect(await refusal(`/api/athletes/${await newAthlete()}/ladder`, 400)).toContain('must have metric');
  });
});

describe('two sessions', () => {
  const pathOf = (id: string, from: string, to: string) =>
    `/api/athletes/${id}/comparison?task=run&metric=swingSideDropDeg&from=${from}&to=${to}`;
  const add = async (athleteId: string, utcMs: number, difference: number, version = 'test-1') =>
    (await storeSession(database, athleteId, utcMs, [{ task: 'run', difference, version, placementUncertainty: 1 }]))
      .sessionId;

  test('are held against each other', async () => {
    const athleteId = await newAthlete();
    const [from, to] = [await add(athleteId, 1000, 1), await add(athleteId, 2000, 4)];
    const found = await api.call<SessionComparison>('GET', pathOf(athleteId, from, to));
    expect(found).toMatchObject({ athleteId, task: 'run', metric: 'swingSideDropDeg', version: 'test-1' });
    expect(found).toMatchObject({ from: { sessionId: from }, to: { sessionId: to } });
    expect(found).toMatchObject({ excludesZero: true, couldBePlacement: false, beyondDetectable: false });
    expect(found.ci95[0]).toBeCloseTo(3 - Math.SQRT2, 12);
    expect(found.placementUncertainty).toBeCloseTo(Math.SQRT2, 12);
  });

  test('of two versions, of one session, of somebody else and of nobody are refused with what to do', async () => {
    const athleteId = await newAthlete();
    const [older, newer] = [await add(athleteId, 1000, 1, 'test-0'), await add(athleteId, 2000, 4)];
    const strange = await add(await newAthlete(), 2000, 4);
    expect(await refusal(pathOf(athleteId, older, newer), 409)).toMatch(/versions \(test-0 and test-1\).*again/);
    expect(await refusal(pathOf(athleteId, newer, newer), 400)).toContain('Give two');
    expect(await refusal(pathOf(athleteId, newer, strange), 404)).toContain('given as to has no difference');
    expect(await refusal(pathOf(athleteId, strange, newer), 404)).toContain('given as from has no difference');
    expect(await refusal(pathOf(NOBODY, older, newer), 404)).toContain('no such athlete');
    expect(await refusal(pathOf(athleteId, 'x', newer), 400)).toContain('from must be an id');
  });
});
