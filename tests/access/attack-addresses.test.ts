/** The same route by another spelling of its address, and routes that believe where a request comes from. OWASP ASVS 4.0.3, 4.1.1, 8.2.1 and 13.1.1. */
import { beforeAll, describe, expect, test } from 'vitest';
import type { Database } from '../../server/src/store/database.ts';
import { newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { Wire, headOf } from './attack-wire.ts';

let api: TestApp;
let database: Database;
let coach: Person;
let stranger: Person;
let athleteId: string;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });
beforeAll(async () => {
  coach = await newPerson({ database, url: api.url }, ['coach']);
  stranger = await newPerson({ database, url: api.url }, ['coach']);
  athleteId = await newAthleteOf(coach, 'Unnr');
});

async function get(address: string, lines: Record<string, string> = {}): Promise<{ status: number; text: string }> {
  const wire = new Wire(api.url).say(headOf(api.url, 'GET', address, { ...lines, connection: 'close' }));
  await wire.closed();
  return { status: wire.statuses[0]!, text: wire.received };
}

const spellings = (): string[] => {
  const path = `/api/athletes/${athleteId}/trials`;
  return [
    ...[path, path.replace('api', '%61pi'), path.replace('/trials', '/%74rials'), path.replace(athleteId, `%${hex()}`)],
    ...[`${path}?`, `${path}?a=b#c`, `${api.url}${path}`, `http://elsewhere.example${path}`, `${path};x=y`, `${path}/`],
    ...[
      path.toUpperCase(),
      path.replace('/api', '//api'),
      path.replace('/api', '/./api'),
      path.replace('/api', '/x/../api'),
    ],
    ...[`${path}.json`, `${path}%20`, `${path}%00`, path.replaceAll('/', '\\')],
  ];
};
const hex = (): string => athleteId.charCodeAt(0).toString(16) + athleteId.slice(1);

describe('a route under another spelling of its address', () => {
  test('is guarded like under its own, and kept by no cache', async () => {
    const answers = { own: 0, other: 0 };
    for (const address of spellings()) {
      expect([address, [401, 404, 400].includes((await get(address)).status)]).toEqual([address, true]);
      const foreign = await get(address, { cookie: stranger.cookie });
      expect([address, foreign.status === 404 || foreign.status === 400]).toEqual([address, true]);
      const { status, text } = await get(address, { cookie: coach.cookie });
      answers[status === 200 ? 'own' : 'other'] += 1;
      if (status === 200) expect([address, /cache-control: no-store/i.test(text)]).toEqual([address, true]);
    }
    // Several are the same route, and several are none.
    expect(answers.own).toBeGreaterThanOrEqual(4);
    expect(answers.other).toBeGreaterThanOrEqual(4);
  });

  test('with another method named in a header is that method', async () => {
    for (const name of ['x-http-method-override', 'x-http-method', 'x-method-override']) {
      const answer = await coach.ask('GET', `/api/athletes/${athleteId}/trials`, undefined, { [name]: 'DELETE' });
      expect([name, answer.status, answer.text]).toEqual([name, 200, '[]']);
    }
  });
});

describe('what is for the machine itself', () => {
  test('is not shown to whoever comes through a proxy, nor for a made-up address', async () => {
    expect((await fetch(`${api.url}/metrics`)).status).toBe(200);
    for (const from of ['203.0.113.5', '127.0.0.1', '::1', ''])
      expect([from, (await get('/metrics', { 'x-forwarded-for': from })).status]).toEqual([from, 401]);
    const through = { 'x-forwarded-for': '203.0.113.5' };
    expect((await get('/metrics', { ...through, cookie: coach.cookie })).status).toBe(403);
    const elsewhere = await api.app.inject({ url: '/metrics', remoteAddress: '203.0.113.5' });
    expect(elsewhere.statusCode).toBe(401);
  });
});
