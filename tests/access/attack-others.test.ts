/** Somebody with an account and with athletes of their own reaches for those of somebody else. OWASP ASVS 4.0.3, 4.1.2, 4.1.3 and 4.2.1. */
import { beforeAll, describe, expect, test } from 'vitest';
import { RETURN_BASELINES } from '../../shared/src/index.ts';
import type { Account, Annotation, Consent, ReturnCriterion, ReturnEpisode } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { allRows } from '../integration/backup-fixture.ts';
import { newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOTHING = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';
const METRIC = 'swingSideDropDeg';
const STARTED_UTC_MS = 1_790_000_000_000;
/** What asking leaves behind: who asked, and that the cookie was seen. */
const MAY_CHANGE = ['audit', 'sign_ins'];

interface Belongings {
  person: Person & { account: Account };
  athleteId: string;
  sessionId: string;
  trialId: string;
  annotationId: string;
  episodeId: string;
  criterionId: string;
  consentId: string;
}

let api: TestApp;
let database: Database;
let own: Belongings;
let theirs: Belongings;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

async function belongings(name: string): Promise<Belongings> {
  const person = await newPerson({ database, url: api.url }, ['coach', 'physio']);
  const athleteId = await newAthleteOf(person, name);
  const of = `/api/athletes/${athleteId}`;
  const differences = [{ task: 'run', metric: METRIC, difference: 2 }] as const;
  const { sessionId, trialIds } = await storeSession(database, athleteId, STARTED_UTC_MS, differences);
  const note = { kind: 'injury', atUtcMs: STARTED_UTC_MS, authorName: 'Reader', side: 'left', text: 'calf' };
  const episode = {
    onsetUtcMs: STARTED_UTC_MS,
    affectedSide: 'left',
    question: 'sprint?',
    baseline: RETURN_BASELINES[0],
  };
  const annotation = await person.call<Annotation>('POST', `${of}/annotations`, note);
  const { id: episodeId } = await person.call<ReturnEpisode>('POST', `${of}/return-episodes`, episode);
  const wanted = { task: 'run', metric: METRIC, limit: 3, sessionsInARow: 2 };
  const criterion = await person.call<ReturnCriterion>('POST', `${of}/return-episodes/${episodeId}/criteria`, wanted);
  const [consent] = await person.call<Consent[]>('GET', `${of}/consents`);
  const ids = { annotationId: annotation.id, criterionId: criterion.id, consentId: consent!.id };
  return { person, athleteId, sessionId, trialId: trialIds[0]!, episodeId, ...ids };
}

beforeAll(async () => {
  [own, theirs] = [await belongings('Own'), await belongings('Theirs')];
  await theirs.person.call('PUT', '/api/sensors/theirs-pelvis', { athleteId: theirs.athleteId, place: 'pelvis' });
});

const rowsNow = async () => {
  const rows = await allRows(database);
  return Object.fromEntries(Object.entries(rows).filter(([table]) => !MAY_CHANGE.includes(table)));
};
const criterionOf = (athlete: string, episode: string, criterion: string) =>
  `/api/athletes/${athlete}/return-episodes/${episode}/criteria/${criterion}`;

describe('ids of somebody else', () => {
  test('of a trial open no route of trials: each answers as for a trial that is not there', async () => {
    const before = await rowsNow();
    let asked = 0;
    for (const { method, url, rule } of api.app.accessRules()) {
      if (rule?.kind !== 'athlete' || rule.of.what !== 'trial' || method === 'HEAD') continue;
      const body = method === 'PATCH' ? { tags: ['taken'], note: 'taken', discarded: true } : undefined;
      const [found, none] = await Promise.all(
        [theirs.trialId, NOTHING].map((id) => own.person.ask(method, url.replace(':id', id), body)),
      );
      expect([url, found!.status, found!.text]).toEqual([url, 404, none!.text]);
      expect((await theirs.person.ask('GET', `/api/trials/${theirs.trialId}`)).status).toBe(200);
      asked += 1;
    }
    expect(asked).toBeGreaterThanOrEqual(7);
    expect(await rowsNow()).toEqual(before);
  });

  test('behind the own athlete in the path change nothing', async () => {
    const before = await rowsNow();
    const of = `/api/athletes/${own.athleteId}`;
    const episode = `${of}/return-episodes/${theirs.episodeId}`;
    const decision = { deciderName: 'D', decision: 'yes', reason: 'r' };
    const criterion = { task: 'run', metric: METRIC, limit: 1, sessionsInARow: 1 };
    const attempts: [string, string, unknown?][] = [
      ['PATCH', `${of}/annotations/${theirs.annotationId}`, { text: 'taken' }],
      ['DELETE', `${of}/annotations/${theirs.annotationId}`],
      ['GET', episode],
      ['PATCH', episode, { question: 'taken' }],
      ['POST', `${episode}/criteria`, criterion],
      ['POST', `${episode}/decisions`, decision],
      ['PATCH', criterionOf(own.athleteId, theirs.episodeId, theirs.criterionId), { limit: 1 }],
      ['PATCH', criterionOf(own.athleteId, own.episodeId, theirs.criterionId), { limit: 1 }],
      ['DELETE', criterionOf(own.athleteId, own.episodeId, theirs.criterionId)],
      ['POST', `${of}/consents/${theirs.consentId}/withdrawal`, { byName: 'Own' }],
    ];
    for (const [method, path, body] of attempts)
      expect([method, path, (await own.person.ask(method, path, body)).status]).toEqual([method, path, 404]);
    expect(await rowsNow()).toEqual(before);
    const seen = await own.person.ask(
      'GET',
      `${of}/comparison?task=run&metric=${METRIC}&from=${own.sessionId}&to=${theirs.sessionId}`,
    );
    expect(seen.status).toBe(404);
  });

  test('in the body, with something else in the path, change nothing', async () => {
    const before = await rowsNow();
    const attempts: [string, string, unknown, number][] = [
      ['POST', '/api/sessions', { athleteId: theirs.athleteId }, 404],
      ['PUT', '/api/sensors/own-pelvis', { athleteId: theirs.athleteId, place: 'pelvis' }, 404],
      // Whoever wears a sensor keeps it.
      ['PUT', '/api/sensors/theirs-pelvis', { athleteId: own.athleteId, place: 'pelvis' }, 404],
      ['PUT', '/api/sensors/theirs-pelvis', { athleteId: null, place: 'pelvis' }, 404],
      ['POST', '/api/sensors/theirs-pelvis/enrolment', undefined, 404],
      ['DELETE', '/api/sensors/theirs-pelvis/enrolment', undefined, 404],
      // What a request may hold is listed: the athlete of a note is that of the path.
      [
        ...(['POST', `/api/athletes/${own.athleteId}/annotations`] as const),
        { kind: 'note', atUtcMs: 1, authorName: 'A', athleteId: theirs.athleteId },
        400,
      ],
      ['PATCH', `/api/athletes/${own.athleteId}`, { id: theirs.athleteId, name: 'Taken' }, 400],
      ['PATCH', `/api/trials/${own.trialId}`, { sessionId: theirs.sessionId, note: 'x' }, 400],
    ];
    for (const [method, path, body, status] of attempts)
      expect([method, path, (await own.person.ask(method, path, body)).status]).toEqual([method, path, status]);
    expect(await rowsNow()).toEqual(before);
  });

  test('are in no list of athletes, and named twice in a query they are refused', async () => {
    const { text } = await own.person.ask('GET', '/api/athletes');
    expect(text).toContain(own.athleteId);
    expect(text).not.toContain(theirs.athleteId);
    const twice = `?metric=${METRIC}&metric=${METRIC}`;
    expect((await own.person.ask('GET', `/api/athletes/${own.athleteId}/history${twice}`)).status).toBe(400);
  });
});

describe('rights', () => {
  test('cannot be given to oneself', async () => {
    const { person } = own;
    const accounts = await rowsNow();
    const id = person.account.id;
    const attempts: [string, string, unknown?][] = [
      ['PATCH', `/api/accounts/${id}`, { roles: ['keeper'] }],
      ['POST', '/api/accounts', { login: 'other', name: 'O', roles: ['keeper'], athleteId: null }],
      ['POST', `/api/accounts/${theirs.person.account.id}/password`],
      ['PUT', `/api/athletes/${own.athleteId}/carers/${theirs.person.account.id}`],
      ['DELETE', `/api/athletes/${own.athleteId}`, { name: 'Own' }],
      ['GET', '/api/audit'],
      ['GET', '/api/accounts'],
      ['PUT', '/api/retention', { months: 1 }],
      ['POST', '/api/re-analysis', { scope: 'all' }],
      ['GET', `/api/athletes/${own.athleteId}/export/everything.tar`],
    ];
    for (const [method, path, body] of attempts)
      expect([method, path, (await person.ask(method, path, body)).status]).toEqual([method, path, 403]);
    // Not even to know that there is such an athlete.
    expect((await person.ask('PUT', `/api/athletes/${theirs.athleteId}/carers/${id}`)).status).toBe(404);
    expect(await rowsNow()).toEqual(accounts);
  });

  test('of a keeper reach no measurement', async () => {
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const ids: Record<string, string> = { trial: theirs.trialId, session: theirs.sessionId, athlete: theirs.athleteId };
    const shut = new Set(['see', 'measure', 'see-health', 'write-health']);
    let asked = 0;
    for (const { method, url, rule } of api.app.accessRules()) {
      if (rule?.kind !== 'athlete' || rule.of.inBody || !shut.has(rule.right) || method === 'HEAD') continue;
      if (!(rule.of.what in ids)) continue;
      const path = url.replace(':id', ids[rule.of.what]!).replace(':step', 'forward_bow').replaceAll(/:\w+/g, NOTHING);
      const { status } = await keeper.ask(method, path, method === 'GET' || method === 'DELETE' ? undefined : {});
      expect([method, url, status]).toEqual([method, url, 403]);
      asked += 1;
    }
    expect(asked).toBeGreaterThan(25);
  });
});
