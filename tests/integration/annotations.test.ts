/** What people write down along an athlete's history, over the API and in the database. */
import { describe, expect, test } from 'vitest';
import { ANNOTATION_TEXT_CHARACTERS_MAX, NAME_CHARACTERS_MAX } from '../../shared/src/index.ts';
import type { Annotation, ApiError, AthleteSummary } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOTHING = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
const PAIN = { kind: 'pain', atUtcMs: 5000, authorName: 'Ruta', side: 'left', painLevel: 3 };

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite));

let count = 0;
async function newPath(): Promise<{ athleteId: string; path: string }> {
  const { id } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: `Athlete ${++count}` }, 201);
  return { athleteId: id, path: `/api/athletes/${id}/annotations` };
}
const write = (path: string, body: object) => api.call<Annotation>('POST', path, body, 201);
const refusal = async (method: string, path: string, body: unknown, status = 400) =>
  (await api.call<ApiError>(method, path, body, status)).error.message;

describe('annotations of an athlete', () => {
  test('are kept as they were said, and listed by the time at which it was so', async () => {
    const { athleteId, path } = await newPath();
    const pain = await write(path, PAIN);
    const injury = await write(path, {
      kind: 'injury',
      atUtcMs: 4000,
      authorName: ' Ruta ',
      side: 'both',
      text: 'Ankle.',
    });
    const note = await write(path, { kind: 'note', atUtcMs: 6000, authorName: 'Ruta', text: 'Slept badly.' });
    expect(pain).toMatchObject({ ...PAIN, athleteId, text: '' });
    expect(injury).toMatchObject({ kind: 'injury', authorName: 'Ruta', side: 'both', painLevel: null, text: 'Ankle.' });
    expect(note).toMatchObject({ side: null, painLevel: null });
    expect(await api.call('GET', path)).toEqual([injury, pain, note]);
  });

  test.each([0, 10])('hold a pain of %i, which is not the same as none told', async (painLevel) => {
    const { path } = await newPath();
    expect((await write(path, { ...PAIN, painLevel })).painLevel).toBe(painLevel);
  });

  test('take as long a text and name as the limits say', async () => {
    const { path } = await newPath();
    const most = {
      text: 'x'.repeat(ANNOTATION_TEXT_CHARACTERS_MAX),
      authorName: 'y'.repeat(NAME_CHARACTERS_MAX),
    };
    expect(await write(path, { ...PAIN, ...most })).toMatchObject(most);
  });

  test.each([
    [{ painLevel: 11 }, 'painLevel must be <= 10'],
    [{ painLevel: -1 }, 'painLevel must be >= 0'],
    [{ painLevel: 2.5 }, 'painLevel must be'],
    [{ painLevel: undefined }, 'A pain needs painLevel'],
    [{ kind: 'injury' }, 'painLevel belongs to a pain'],
    [{ kind: 'shoes', painLevel: undefined, text: 'Spikes.' }, 'A side belongs to an injury or a pain'],
    [{ kind: 'shoes', painLevel: undefined, side: undefined }, 'which shoes'],
    [{ kind: 'surface', painLevel: undefined, side: undefined, text: '  ' }, 'which surface'],
    [{ kind: 'note', painLevel: undefined, side: undefined }, 'Write the note'],
    [{ kind: 'weather' }, 'kind must be one of injury, pain, surface, shoes, note'],
    [{ side: 'middle' }, 'side must be one of left, right, both'],
    [{ atUtcMs: 9e15 }, 'lies in the future'],
    [{ atUtcMs: -1 }, 'atUtcMs must be >= 0'],
    [{ authorName: ' ' }, 'authorName must not be blank'],
    [{ authorName: undefined }, 'must have authorName'],
    [{ text: 'x'.repeat(ANNOTATION_TEXT_CHARACTERS_MAX + 1) }, 'text'],
    [{ text: 'a\u0000b' }, 'text must not hold the character U+0000'],
    [{ createdUtcMs: 1 }, 'must not have createdUtcMs'],
  ])('are not taken with %j, and the answer says what to do', async (change, expected) => {
    const { path } = await newPath();
    expect(await refusal('POST', path, { ...PAIN, ...change })).toContain(expected);
    expect(await api.call('GET', path)).toEqual([]);
  });

  test('change in what is named, and only to what may stand', async () => {
    const { path } = await newPath();
    const pain = await write(path, PAIN);
    const one = `${path}/${pain.id}`;
    const changed = await api.call<Annotation>('PATCH', one, { painLevel: 1, side: null, text: 'Less.' });
    expect(changed).toEqual({ ...pain, painLevel: 1, side: null, text: 'Less.' });
    expect(await refusal('PATCH', one, { painLevel: null })).toContain('A pain needs painLevel');
    expect(await refusal('PATCH', one, { kind: 'note' })).toContain('must not have kind');
    expect(await refusal('PATCH', one, {})).toContain('must');
    expect(await api.call('GET', path)).toEqual([changed]);
  });

  test('are removed one at a time', async () => {
    const { path } = await newPath();
    const [first, second] = [await write(path, PAIN), await write(path, PAIN)];
    expect(await api.call('DELETE', `${path}/${first.id}`)).toEqual({ id: first.id });
    expect(await api.call('GET', path)).toEqual([second]);
    expect(await refusal('DELETE', `${path}/${first.id}`, undefined, 404)).toContain('no such annotation');
  });

  test('are not reached through another athlete', async () => {
    const [own, other] = [await newPath(), await newPath()];
    const pain = await write(own.path, PAIN);
    expect(await refusal('PATCH', `${other.path}/${pain.id}`, { painLevel: 9 }, 404)).toContain('no such annotation');
    expect(await refusal('DELETE', `${other.path}/${pain.id}`, undefined, 404)).toContain('no such annotation');
    expect(await api.call('GET', own.path)).toEqual([pain]);
  });

  test('of nobody are 404', async () => {
    const path = `/api/athletes/${NOTHING}/annotations`;
    expect(await refusal('GET', path, undefined, 404)).toContain('no such athlete');
    expect(await refusal('POST', path, PAIN, 404)).toContain('no such athlete');
  });

  test('go with the athlete', async () => {
    const { athleteId, path } = await newPath();
    const { id } = await write(path, PAIN);
    await database.sql`delete from athletes where id = ${athleteId}`;
    expect(await database.sql`select from annotations where id = ${id}`).toHaveLength(0);
  });
});

describe('the database itself refuses', () => {
  test.each([
    [{ kind: 'note', pain_level: 3, side: null }, 'annotations_pain_has_level'],
    [{ kind: 'pain', pain_level: null, side: null }, 'annotations_pain_has_level'],
    [{ kind: 'pain', pain_level: 11, side: null }, 'annotations_pain_level_possible'],
    [{ kind: 'shoes', pain_level: null, side: 'left' }, 'annotations_side_of_injury_or_pain'],
    [{ kind: 'weather', pain_level: null, side: null }, 'annotations_kind_known'],
  ])('the annotation %j', async (values, constraint) => {
    const { athleteId } = await newPath();
    const row = { athlete_id: athleteId, at_utc_ms: 1, author_name: 'Ruta', created_utc_ms: 1, ...values };
    await expect(database.sql`insert into annotations ${database.sql(row)}`).rejects.toThrow(constraint);
  });
});
