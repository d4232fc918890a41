/** A coach without the consent to health looks for notes of injury and return episodes wherever they could come out. OWASP ASVS 4.0.3, 4.1.3. */
import { beforeAll, describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import type { Account, Annotation, Consent, ReturnEpisode } from '../../shared/src/index.ts';
import { addCarer } from '../../server/src/store/care.ts';
import type { Database } from '../../server/src/store/database.ts';
import { newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';

/** Stands in every text that is about health, and in no other. */
const SECRET = 'achilles-rupture';
const METRIC = 'swingSideDropDeg';
const TASK_AND_METRIC = `task=run&metric=${METRIC}`;

let api: TestApp;
let database: Database;
let physio: Person & { account: Account };
let coach: Person & { account: Account };
let athleteId: string;
let sessionIds: string[];
let trialId: string;
let injury: Annotation;
let episode: ReturnEpisode;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

beforeAll(async () => {
  physio = await newPerson({ database, url: api.url }, ['physio']);
  coach = await newPerson({ database, url: api.url }, ['coach']);
  athleteId = await newAthleteOf(physio, 'Ronja');
  await addCarer(database.db, athleteId, coach.account.id, Date.now());
  const of = `/api/athletes/${athleteId}`;
  const atUtcMs = Date.now() - 86_400_000;
  const run = [{ task: 'run', metric: METRIC, difference: 2 }] as const;
  const stored = [
    await storeSession(database, athleteId, atUtcMs, run),
    await storeSession(database, athleteId, atUtcMs + 1000, run),
  ];
  sessionIds = stored.map(({ sessionId }) => sessionId);
  trialId = stored[0]!.trialIds[0]!;
  const said = { atUtcMs, authorName: 'Reader', side: 'left', text: SECRET };
  injury = await physio.call<Annotation>('POST', `${of}/annotations`, { ...said, kind: 'injury' });
  await physio.call('POST', `${of}/annotations`, { ...said, kind: 'pain', painLevel: 7 });
  await physio.call('POST', `${of}/annotations`, { ...said, kind: 'surface', side: null, text: 'wet grass' });
  episode = await physio.call<ReturnEpisode>('POST', `${of}/return-episodes`, {
    ...{ onsetUtcMs: atUtcMs, affectedSide: 'left', question: SECRET, baseline: 'before the injury' },
  });
  const decision = { deciderName: 'Reader', decision: SECRET, reason: SECRET };
  await physio.call('POST', `${of}/return-episodes/${episode.id}/decisions`, decision);
});

/** Every address that can be read, with ids of this athlete. */
function readable(): string[] {
  const queries: Record<string, string> = {
    '/api/athletes/:id/history': `?metric=${METRIC}`,
    '/api/athletes/:id/ladder': `?metric=${METRIC}`,
    '/api/athletes/:id/session-history': `?${TASK_AND_METRIC}`,
    '/api/athletes/:id/comparison': `?${TASK_AND_METRIC}&from=${sessionIds[0]}&to=${sessionIds[1]}`,
  };
  return api.app.accessRules().flatMap(({ method, url, rule }) => {
    if (!method.split(',').includes('GET') || !url.startsWith('/api/')) return [];
    const of = rule?.kind === 'athlete' ? rule.of.what : 'athlete';
    const id = { athlete: athleteId, session: sessionIds[0]!, trial: trialId }[of] ?? athleteId;
    const path = url.replace(':episodeId', episode.id).replace(':id', id);
    return [`${path}${queries[url] ?? ''}`];
  });
}

const holding = async (person: Person): Promise<string[]> => {
  const found: string[] = [];
  for (const path of readable()) {
    const { text } = await person.ask('GET', path);
    if (text.includes(SECRET) || text.includes(injury.id)) found.push(path.split('?')[0]!);
  }
  return found.sort();
};
const onAthlete = (...rest: string[]) => [`/api/athletes/${athleteId}`, ...rest].join('/');
const CARRIERS = () =>
  [
    onAthlete('annotations'),
    onAthlete('return-episodes'),
    onAthlete('return-episodes', episode.id),
    onAthlete('session-history'),
  ].sort();

describe('notes of injury and return episodes', () => {
  test('come out to the physio at four addresses, and to a coach without that consent at none', async () => {
    expect(readable().length).toBeGreaterThan(20);
    expect(await holding(physio)).toEqual(CARRIERS());
    expect(await holding(coach)).toEqual([]);
    const history = await coach.ask('GET', onAthlete(`session-history?${TASK_AND_METRIC}`));
    expect([history.status, history.text.includes('wet grass')]).toEqual([200, true]);
  });

  test('are not sent over the live socket', async () => {
    const messages: string[] = [];
    const headers = { cookie: coach.cookie, origin: api.url };
    const socket = new WebSocket(`${api.socketUrl}/live?athlete=${athleteId}`, { headers });
    socket.on('message', (data) => messages.push(String(data)));
    await waitUntil('the snapshot comes', () => messages.length > 0);
    socket.close();
    await waitUntil('it is closed', () => socket.readyState === WebSocket.CLOSED);
    expect(messages.join()).not.toContain(SECRET);
  });

  test('are not written, changed or removed by whoever may not see them', async () => {
    const of = onAthlete('annotations');
    const said = { atUtcMs: injury.atUtcMs, authorName: 'Coach', text: 'x' };
    const attempts: [string, string, unknown?][] = [
      ['POST', of, { ...said, kind: 'injury', side: 'left' }],
      ['POST', of, { ...said, kind: 'pain', painLevel: 1 }],
      ['PATCH', `${of}/${injury.id}`, { text: 'taken' }],
      ['DELETE', `${of}/${injury.id}`],
      ['POST', onAthlete('return-episodes', episode.id, 'decisions'), { deciderName: 'C', decision: 'd', reason: 'r' }],
      ['PATCH', onAthlete('return-episodes', episode.id), { question: 'taken' }],
      ['GET', onAthlete('export', 'everything.tar')],
    ];
    for (const [method, path, body] of attempts) {
      const { status, text } = await coach.ask(method, path, body);
      expect([method, path, status]).toEqual([method, path, 403]);
      expect(text).not.toContain(SECRET);
    }
    // A kind that is not of health, under the id of one that is: the kind cannot be changed.
    expect((await coach.ask('PATCH', `${of}/${injury.id}`, { kind: 'note' })).status).toBe(400);
    expect((await coach.ask('POST', of, { ...said, kind: 'note' })).status).toBe(201);
    expect((await physio.ask<Annotation[]>('GET', of)).body).toContainEqual(injury);
  });

  test('are shown to the coach while that consent is in force, and no longer', async () => {
    const given = { purpose: 'health to coach', givenByName: 'Ronja', guardianOf: null };
    const consent = await physio.call<Consent>('POST', onAthlete('consents'), given);
    expect(await holding(coach)).toEqual(CARRIERS());
    await physio.call('POST', onAthlete('consents', consent.id, 'withdrawal'), { byName: 'Ronja' });
    expect(await holding(coach)).toEqual([]);
  });
});
