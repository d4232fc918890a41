/** The list of athletes is read by more people than anything else: it must not tell more than a name. OWASP ASVS 4.0.3, 4.1.3. */
import { expect, test } from 'vitest';
import type { AthleteSummary } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { newPerson, type Person } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

test('body and notes are shown to whoever may see the athlete, the name to whoever may know them, nothing to others', async () => {
  const person = (roles: Parameters<typeof newPerson>[1], athleteId: string | null = null) =>
    newPerson({ database, url: api.url }, roles, athleteId);
  const [coach, keeper, stranger] = [await person(['coach']), await person(['keeper']), await person(['physio'])];
  const details = { bodyMassKg: 61.25, notes: 'asthma', dominantHand: 'left', preferredTakeOffFoot: 'right' };
  const { id } = await coach.call<AthleteSummary>('POST', '/api/athletes', { name: 'Tove', ...details });
  const shownTo = async (who: Person) =>
    (await who.call<AthleteSummary[]>('GET', '/api/athletes')).find((athlete) => athlete.id === id);
  const nameAlone = { name: 'Tove', bodyMassKg: null, notes: '', dominantHand: null, preferredTakeOffFoot: null };
  for (const who of [coach, keeper]) expect(await shownTo(who)).toMatchObject(nameAlone);
  expect(await shownTo(stranger)).toBeUndefined();

  const athlete = await person(['athlete'], id);
  expect(await shownTo(athlete)).toMatchObject({ name: 'Tove', ...details });
  const consents = `/api/athletes/${id}/consents`;
  const given = { purpose: 'recording', givenByName: 'T', guardianOf: null };
  const consent = await coach.call<{ id: string }>('POST', consents, given);
  expect(await shownTo(coach)).toMatchObject({ name: 'Tove', ...details });
  expect(await shownTo(keeper)).toMatchObject(nameAlone);
  await coach.call('POST', `${consents}/${consent.id}/withdrawal`, { byName: 'T' });
  expect(await shownTo(coach)).toMatchObject(nameAlone);
});
