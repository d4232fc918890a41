/** What a coach writes down about athletes and trials, over the API. */
import { describe, expect, test } from 'vitest';
import {
  ATHLETE_NOTES_CHARACTERS_MAX,
  BODY_MASS_KG_MAX,
  BODY_MASS_KG_MIN,
  COACH_TASKS,
  NAME_CHARACTERS_MAX,
  TASKS,
  TRIAL_NOTE_CHARACTERS_MAX,
  TRIAL_TAG_CHARACTERS_MAX,
  TRIAL_TAGS_MAX,
} from '../../shared/src/index.ts';
import type { ApiError, AthleteSummary, SessionView, Task, TrialSummary, TrialView } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { saveResult } from '../../server/src/store/save-result.ts';
import { makeResult } from '../support/sample-result.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOBODY = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));

let count = 0;
const newAthlete = (details: object = {}) =>
  api.call<AthleteSummary>('POST', '/api/athletes', { name: `Athlete ${++count}`, ...details }, 201);
const changed = (id: string, change: object) => api.call<AthleteSummary>('PATCH', `/api/athletes/${id}`, change, 200);
const refusal = async (path: string, body: unknown, status = 400) =>
  (await api.call<ApiError>('PATCH', path, body, status)).error.message;
async function newTrial(task: Task, details: object = {}): Promise<TrialSummary> {
  const athlete = await newAthlete(details);
  await api.call('PUT', `/api/sensors/coach-${count}`, { athleteId: athlete.id, place: 'pelvis' });
  const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id }, 201);
  return api.call<TrialSummary>('POST', `/api/sessions/${session.id}/trials`, { task }, 201);
}
const changedTrial = (id: string, change: object) => api.call<TrialSummary>('PATCH', `/api/trials/${id}`, change, 200);

describe('an athlete', () => {
  test('needs a name only; all else is unknown until somebody says it', async () => {
    expect(await newAthlete()).toMatchObject({
      bodyMassKg: null,
      dominantHand: null,
      preferredTakeOffFoot: null,
      notes: '',
    });
  });

  test('has body mass, hand, foot and notes from the start, on the roster too', async () => {
    const details = { bodyMassKg: 61.5, dominantHand: 'left', preferredTakeOffFoot: 'right', notes: 'Old sprain.' };
    const athlete = await newAthlete(details);
    expect(athlete).toMatchObject(details);
    const roster = await api.call<AthleteSummary[]>('GET', '/api/athletes');
    expect(roster.find((each) => each.id === athlete.id)).toEqual(athlete);
  });

  test('changes in what is named, and can be unknown again', async () => {
    const athlete = await newAthlete({ bodyMassKg: 61.5, notes: 'First.' });
    expect(await changed(athlete.id, { dominantHand: 'both', name: ' New name ' })).toEqual({
      ...athlete,
      dominantHand: 'both',
      name: 'New name',
    });
    const cleared = await changed(athlete.id, { bodyMassKg: null, dominantHand: null, notes: '' });
    expect(cleared).toMatchObject({ bodyMassKg: null, dominantHand: null, notes: '', name: 'New name' });
  });

  test('may be as light, as heavy and as much written about as the limits say', async () => {
    const most = { bodyMassKg: BODY_MASS_KG_MAX, notes: 'x'.repeat(ATHLETE_NOTES_CHARACTERS_MAX) };
    const { id } = await newAthlete(most);
    expect(await changed(id, { bodyMassKg: BODY_MASS_KG_MIN })).toMatchObject({
      ...most,
      bodyMassKg: BODY_MASS_KG_MIN,
    });
  });

  test.each([
    [{ bodyMassKg: BODY_MASS_KG_MIN - 0.1 }, 'bodyMassKg must be >= 15'],
    [{ bodyMassKg: BODY_MASS_KG_MAX + 0.1 }, 'bodyMassKg must be <= 250'],
    [{ bodyMassKg: '70' }, 'bodyMassKg must be'],
    [{ dominantHand: 'foot' }, 'dominantHand must be one of left, right, both'],
    [{ preferredTakeOffFoot: 'both' }, 'preferredTakeOffFoot must be one of left, right'],
    [{ notes: 'x'.repeat(ATHLETE_NOTES_CHARACTERS_MAX + 1) }, 'notes'],
    [{ notes: 'a\u0000b' }, 'notes must not hold the character U+0000'],
    [{ name: 'a\u0000b' }, 'name must not'],
    [{ name: '  ' }, 'name must not be blank'],
    [{ name: 'x'.repeat(NAME_CHARACTERS_MAX + 1) }, 'name'],
    [{ trialCount: 3 }, 'must not have trialCount'],
    [{}, 'must'],
  ])('is not changed by %j, and says what to correct', async (change, expected) => {
    const athlete = await newAthlete({ notes: 'Kept.' });
    expect(await refusal(`/api/athletes/${athlete.id}`, change)).toContain(expected);
    expect(await changed(athlete.id, { notes: 'Kept.' })).toEqual(athlete);
  });

  test('that does not exist is 404', async () => {
    expect(await refusal(`/api/athletes/${NOBODY}`, { notes: '' }, 404)).toContain('no such athlete');
  });
});

describe('a trial', () => {
  test('keeps the body mass that held when it started', async () => {
    const trial = await newTrial('run', { bodyMassKg: 58 });
    expect(trial).toMatchObject({ bodyMassKg: 58, tags: [], note: '', discarded: false });
    await changed(trial.athleteId, { bodyMassKg: 64 });
    expect(await api.call<TrialView>('GET', `/api/trials/${trial.id}`)).toMatchObject({
      bodyMassKg: 58,
      taskSummary: null,
    });
  });

  test.each(COACH_TASKS.map((info) => info.task))('of %s can be started', async (task) => {
    expect((await newTrial(task)).task).toBe(task);
  });

  test('is tagged and noted; tags are trimmed, and each is there once', async () => {
    const trial = await newTrial('walk');
    expect(await changedTrial(trial.id, { tags: [' wet', 'spikes', 'wet'], note: 'Left shoe open.' })).toEqual({
      ...trial,
      tags: ['wet', 'spikes'],
      note: 'Left shoe open.',
    });
    expect(await changedTrial(trial.id, { tags: [] })).toMatchObject({ tags: [], note: 'Left shoe open.' });
    const session = await api.call<SessionView>('GET', `/api/sessions/${trial.sessionId}`);
    expect(session.trials[0]).toMatchObject({ tags: [], note: 'Left shoe open.' });
  });

  test('takes as many tags, and as long a note, as the limits say', async () => {
    const trial = await newTrial('walk');
    const tags = Array.from({ length: TRIAL_TAGS_MAX }, (_, k) => `${k}`.padEnd(TRIAL_TAG_CHARACTERS_MAX, 'x'));
    const note = 'x'.repeat(TRIAL_NOTE_CHARACTERS_MAX);
    expect(await changedTrial(trial.id, { tags, note })).toMatchObject({ tags, note });
  });

  test.each([
    [{ tags: Array.from({ length: TRIAL_TAGS_MAX + 1 }, (_, k) => `${k}`) }, 'tags'],
    [{ tags: ['x'.repeat(TRIAL_TAG_CHARACTERS_MAX + 1)] }, 'tags.0'],
    [{ tags: [' '] }, 'tags.0 must not be blank'],
    [{ tags: 'wet' }, 'tags must be array'],
    [{ note: 'x'.repeat(TRIAL_NOTE_CHARACTERS_MAX + 1) }, 'note'],
    [{ discarded: 'yes' }, 'discarded must be boolean'],
    [{ bodyMassKg: 50 }, 'must not have bodyMassKg'],
    [{}, 'must'],
  ])('is not changed by %j, and says what to correct', async (change, expected) => {
    const trial = await newTrial('walk');
    expect(await refusal(`/api/trials/${trial.id}`, change)).toContain(expected);
    expect(await api.call('GET', `/api/trials/${trial.id}`)).toMatchObject({ ...trial });
  });

  test('that is discarded is left out of the history, not of the list, until it is taken back', async () => {
    const trial = await newTrial('run');
    await saveResult(database.db, trial.id, makeResult(), { problem: null, dataComplete: true });
    const points = () => api.call<unknown[]>('GET', `/api/athletes/${trial.athleteId}/history?metric=swingSideDropDeg`);
    const list = () => api.call<TrialSummary[]>('GET', `/api/athletes/${trial.athleteId}/trials`);
    const before = await points();
    expect(before).toHaveLength(1);
    expect((await changedTrial(trial.id, { discarded: true })).discarded).toBe(true);
    expect(await points()).toEqual([]);
    expect((await list()).map(({ id, discarded }) => [id, discarded])).toEqual([[trial.id, true]]);
    await changedTrial(trial.id, { discarded: false });
    expect(await points()).toEqual(before);
  });

  test('has waveforms when it is final, and says why not before, or without them', async () => {
    const trial = await newTrial('run');
    const ask = (status: number) => api.call<ApiError>('GET', `/api/trials/${trial.id}/waveforms`, undefined, status);
    expect((await ask(409)).error.code).toBe('not-final');
    await saveResult(database.db, trial.id, makeResult(), { problem: null, dataComplete: true });
    const { waveforms, taskSummary, version } = makeResult();
    expect(await ask(200)).toEqual({ trialId: trial.id, version, waveforms });
    expect((await api.call<TrialView>('GET', `/api/trials/${trial.id}`)).taskSummary).toEqual(taskSummary);
    // As a result that was stored before waveforms were.
    await database.sql`update trials set waveforms = null, task_summary = null where id = ${trial.id}`;
    expect((await ask(409)).error).toMatchObject({ code: 'no-waveforms', message: expect.stringContaining('/result') });
    expect((await api.call<TrialView>('GET', `/api/trials/${trial.id}`)).taskSummary).toBeNull();
  });

  test('that does not exist is 404', async () => {
    expect(await refusal(`/api/trials/${NOBODY}`, { note: '' }, 404)).toContain('no such trial');
    await api.call('GET', `/api/trials/${NOBODY}/waveforms`, undefined, 404);
  });
});

describe('the tasks', () => {
  test('that a coach picks go from simple to hard, each with the foot that it is about', () => {
    expect(COACH_TASKS.map(({ task, mark }) => [task, mark])).toEqual([
      ['stand', null],
      ['single-leg-stand-left', 'left'],
      ['single-leg-stand-right', 'right'],
      ['walk', null],
      ['run', null],
      ['strides', null],
      ['run-up', null],
      ['landing-both', 'both'],
      ['landing-left', 'left'],
      ['landing-right', 'right'],
      ['half-turn', null],
    ]);
  });

  test('on one leg and in the air need a spotter and clear space', () => {
    const calm = COACH_TASKS.filter((info) => !info.needsSpotter).map((info) => info.task);
    expect(calm).toEqual(['stand', 'walk', 'run']);
  });

  test('of stances are those with steps', () => {
    const ofStances = COACH_TASKS.filter((info) => info.stanceBased).map((info) => info.task);
    expect(ofStances).toEqual(['walk', 'run', 'strides', 'run-up']);
  });

  test('of before, without a mark, are still read and not offered', () => {
    for (const task of ['single-leg-stand', 'landing'] as const) {
      expect(TASKS).toContain(task);
      expect(COACH_TASKS.some((info) => info.task === task)).toBe(false);
    }
  });
});
