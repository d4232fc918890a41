/** The way back to training after an injury, over the API. */
import { describe, expect, test } from 'vitest';
import { CAUTIONS, RETURN_CRITERIA_MAX, RETURN_SESSIONS_IN_A_ROW_MAX } from '../../shared/src/index.ts';
import type {
  ApiError,
  AthleteSummary,
  ReturnCriterion,
  ReturnDecision,
  ReturnEpisode,
  ReturnEpisodeView,
} from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOTHING = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
const ONSET = 10_000;
const EPISODE = { onsetUtcMs: ONSET, affectedSide: 'left', question: 'Full run-up?', baseline: 'before the injury' };
const CRITERION = { task: 'run', metric: 'swingSideDropDeg', limit: 5, sessionsInARow: 1 };
const DECISION = { deciderName: 'Ruta', decision: 'Half the run-up.', reason: 'No pain in three sessions.' };

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));

async function newAthlete(): Promise<{ athleteId: string; list: string }> {
  const { id } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Somebody' }, 201);
  return { athleteId: id, list: `/api/athletes/${id}/return-episodes` };
}
async function newEpisode(changes: object = {}) {
  const { athleteId, list } = await newAthlete();
  const episode = await api.call<ReturnEpisode>('POST', list, { ...EPISODE, ...changes }, 201);
  return { athleteId, list, episode, path: `${list}/${episode.id}` };
}
const addCriterion = (path: string, changes: object = {}) =>
  api.call<ReturnCriterion>('POST', `${path}/criteria`, { ...CRITERION, ...changes }, 201);
const view = (path: string) => api.call<ReturnEpisodeView>('GET', path);
const refusal = async (method: string, path: string, body?: unknown, status = 400) =>
  (await api.call<ApiError>(method, path, body, status)).error.message;

describe('a return episode', () => {
  test('is kept as it was said, listed with the latest onset first, and changed in what is named', async () => {
    const { athleteId, list, episode, path } = await newEpisode();
    expect(episode).toMatchObject({ ...EPISODE, athleteId });
    const later = await api.call<ReturnEpisode>('POST', list, { ...EPISODE, onsetUtcMs: ONSET + 1 }, 201);
    expect(await api.call('GET', list)).toEqual([later, episode]);
    const changed = await api.call('PATCH', path, { affectedSide: 'right', baseline: 'unaffected side' });
    expect(changed).toEqual({ ...episode, affectedSide: 'right', baseline: 'unaffected side' });
    expect(await refusal('PATCH', path, {})).toContain('must');
  });

  test('new has no state at all, and brings the cautions', async () => {
    const { episode, path } = await newEpisode();
    expect(await view(path)).toEqual({ ...episode, criteria: [], decisions: [], cautions: [...CAUTIONS] });
  });

  test.each([
    [{ affectedSide: 'both' }, 'affectedSide must be one of left, right'],
    [{ baseline: 'none' }, 'baseline must be one of before the injury, unaffected side'],
    [{ question: '  ' }, 'question must not be blank'],
    [{ onsetUtcMs: 9e15 }, 'onsetUtcMs lies in the future'],
    [{ cleared: true }, 'must not have cleared'],
  ])('with %j is refused, new or changed', async (changes, expected) => {
    const { list, path } = await newEpisode();
    expect(await refusal('POST', list, { ...EPISODE, ...changes })).toContain(expected);
    expect(await refusal('PATCH', path, changes)).toContain(expected);
  });

  test('is not reached through another athlete, and of nobody is 404', async () => {
    const [own, other] = [await newEpisode(), await newAthlete()];
    const { id } = await addCriterion(own.path);
    const wrong = `${other.list}/${own.episode.id}`;
    expect(await refusal('GET', wrong, undefined, 404)).toContain('no such return episode');
    expect(await refusal('PATCH', wrong, { affectedSide: 'right' }, 404)).toContain('no such return episode');
    expect(await refusal('POST', `${wrong}/criteria`, CRITERION, 404)).toContain('no such return episode');
    expect(await refusal('PATCH', `${wrong}/criteria/${id}`, { limit: 9 }, 404)).toContain('no such return episode');
    expect(await refusal('DELETE', `${wrong}/criteria/${id}`, undefined, 404)).toContain('no such return episode');
    expect(await refusal('POST', `${wrong}/decisions`, DECISION, 404)).toContain('no such return episode');
    const nobody = `/api/athletes/${NOTHING}/return-episodes`;
    expect(await refusal('GET', nobody, undefined, 404)).toContain('no such athlete');
    expect(await refusal('POST', nobody, EPISODE, 404)).toContain('no such athlete');
    expect((await view(own.path)).criteria).toMatchObject([{ limit: 5 }]);
  });
});

describe('its criteria', () => {
  test('stand as the sessions since the onset do, most limiting first', async () => {
    const { athleteId, path } = await newEpisode();
    const within = await addCriterion(path);
    const notMeasured = await addCriterion(path, { task: 'walk' });
    const outside = await addCriterion(path, { metric: 'leanToStanceMeanDeg', limit: 2 });
    for (const [k, difference] of [0.5, 1, 1.5].entries())
      await storeSession(database, athleteId, 1000 * (k + 1), [{ task: 'run', difference, placementUncertainty: 1 }]);
    const { sessionId } = await storeSession(database, athleteId, ONSET + 1000, [
      { task: 'run', difference: 1, placementUncertainty: 1 },
      { task: 'run', difference: 9, metric: 'leanToStanceMeanDeg', placementUncertainty: 1 },
    ]);
    const { criteria } = await view(path);
    expect(criteria).toMatchObject([
      { ...outside, state: 'outside', reference: { basis: 'unaffected side', weaker: true } },
      { ...notMeasured, state: 'not measured', sessions: [] },
      {
        ...within,
        state: 'within',
        reference: { basis: 'before the injury', sessions: 3, mean: 1 },
        sessions: [{ sessionId, utcMs: ONSET + 1000, placementUncertainty: 1 }],
      },
    ]);
  });

  test('change in what is named, and are removed one at a time', async () => {
    const { path } = await newEpisode();
    const [first, second] = [await addCriterion(path), await addCriterion(path, { task: 'walk' })];
    const one = `${path}/criteria/${first.id}`;
    expect(await api.call('PATCH', one, { limit: 2.5, sessionsInARow: 3 })).toEqual({
      ...first,
      limit: 2.5,
      sessionsInARow: 3,
    });
    expect(await refusal('PATCH', one, {})).toContain('must');
    expect(await api.call('DELETE', one)).toEqual({ id: first.id });
    expect((await view(path)).criteria.map(({ id }) => id)).toEqual([second.id]);
    expect(await refusal('DELETE', one, undefined, 404)).toContain('no such criterion');
    expect(await refusal('PATCH', one, { limit: 1 }, 404)).toContain('no such criterion');
  });

  test.each([
    [{ limit: 0 }, 'limit must be > 0'],
    [{ sessionsInARow: 0 }, 'sessionsInARow must be >= 1'],
    [{ sessionsInARow: RETURN_SESSIONS_IN_A_ROW_MAX + 1 }, `sessionsInARow must be <= ${RETURN_SESSIONS_IN_A_ROW_MAX}`],
    [{ task: 'landing' }, 'task must be one of walk, run, strides, run-up'],
    [{ metric: 'speed' }, 'metric must be one of'],
  ])('with %j are refused, new or changed', async (changes, expected) => {
    const { path } = await newEpisode();
    const { id } = await addCriterion(path);
    expect(await refusal('POST', `${path}/criteria`, { ...CRITERION, ...changes })).toContain(expected);
    expect(await refusal('PATCH', `${path}/criteria/${id}`, changes)).toContain(expected);
  });

  test('are as many as a person can look through', async () => {
    const { path } = await newEpisode();
    for (let k = 0; k < RETURN_CRITERIA_MAX; k += 1) await addCriterion(path);
    expect(await refusal('POST', `${path}/criteria`, CRITERION, 409)).toContain('Remove one first');
  });
});

describe('a decision', () => {
  test('is added with name, time and reason, oldest first, and no criterion changes by it', async () => {
    const { path } = await newEpisode();
    await addCriterion(path);
    const before = (await view(path)).criteria;
    const [lowest, highest] = [Date.now() - 60_000, Date.now() + 60_000];
    const first = await api.call<ReturnDecision>('POST', `${path}/decisions`, DECISION, 201);
    const said = { ...DECISION, decision: ' Hold. ' };
    let second = await api.call<ReturnDecision>('POST', `${path}/decisions`, said, 201);
    // Of one millisecond, their order would be any.
    while (second.decidedUtcMs === first.decidedUtcMs)
      second = await api.call<ReturnDecision>('POST', `${path}/decisions`, said, 201);
    expect(first).toMatchObject(DECISION);
    expect(first.decidedUtcMs).toBeGreaterThan(lowest);
    expect(first.decidedUtcMs).toBeLessThan(highest);
    expect(second).toMatchObject({ decision: 'Hold.' });
    const { criteria, decisions } = await view(path);
    expect(criteria).toEqual(before);
    expect([decisions[0], decisions[decisions.length - 1]]).toEqual([first, second]);
  });

  test('keeps how the criteria stood, whatever is measured or changed afterwards', async () => {
    const { athleteId, path } = await newEpisode({ baseline: 'unaffected side' });
    const { id } = await addCriterion(path, { limit: 2 });
    await storeSession(database, athleteId, ONSET + 1000, [{ task: 'run', difference: 9, placementUncertainty: 1 }]);
    const [then] = (await view(path)).criteria;
    const { criteria } = await api.call<ReturnDecision>('POST', `${path}/decisions`, DECISION, 201);
    const { change, ci90 } = then!.sessions[0]!;
    expect(change).toBe(9);
    expect(criteria).toEqual([
      {
        ...{ task: 'run', metric: 'swingSideDropDeg', limit: 2, sessionsInARow: 1 },
        ...{ state: 'outside', withinInARow: 0, newestUtcMs: ONSET + 1000 },
        ...{ version: then!.version, why: then!.why, change, ci90 },
      },
    ]);
    await api.call('PATCH', `${path}/criteria/${id}`, { limit: 50 });
    await storeSession(database, athleteId, ONSET + 2000, [{ task: 'run', difference: 0.1, placementUncertainty: 1 }]);
    const later = await view(path);
    expect(later.criteria).toMatchObject([{ state: 'within', limit: 50 }]);
    expect(later.decisions).toMatchObject([{ criteria }]);
  });

  test.each([{ reason: ' ' }, { deciderName: '' }, { decision: '' }, { decidedUtcMs: 1 }])(
    'with %j is refused',
    async (changes) => {
      const { path } = await newEpisode();
      await refusal('POST', `${path}/decisions`, { ...DECISION, ...changes });
      expect((await view(path)).decisions).toEqual([]);
    },
  );

  test('has no way to be changed or removed', async () => {
    const { path } = await newEpisode();
    const { id } = await api.call<ReturnDecision>('POST', `${path}/decisions`, DECISION, 201);
    for (const method of ['PATCH', 'PUT', 'DELETE']) await refusal(method, `${path}/decisions/${id}`, undefined, 404);
    expect((await view(path)).decisions).toHaveLength(1);
  });
});
