/** Requests that are too large, too slow, too many or two in one. OWASP ASVS 4.0.3, 12.1.1, 13.2.5; RFC 9112, 6.1 and 6.3. */
import { pino } from 'pino';
import { afterEach, beforeAll, describe, expect, test } from 'vitest';
import { openToAll } from '../../server/src/access/rules.ts';
import { makeHttpServer } from '../../server/src/http-server.ts';
import { IMPORTS_WAITING_MAX } from '../../server/src/session/import-service.ts';
import type { Database } from '../../server/src/store/database.ts';
import { newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';
import { Wire, headOf } from './attack-wire.ts';

const KIB = 1024;
const MIB = 1024 * KIB;
const IDLE_CONNECTIONS = 400;
const JSON_TYPE = { 'content-type': 'application/json' };

let api: TestApp;
let database: Database;
let coach: Person;
let stranger: Person;
let athleteId: string;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });
beforeAll(async () => {
  coach = await newPerson({ database, url: api.url }, ['coach']);
  stranger = await newPerson({ database, url: api.url }, ['coach']);
  athleteId = await newAthleteOf(coach, 'Bodil');
});

const wires: Wire[] = [];
const wireTo = (url: string): Wire => {
  const wire = new Wire(url);
  wires.push(wire);
  return wire;
};
afterEach(() => wires.splice(0).forEach(({ socket }) => socket.destroy()));

/** Says how long the body will be, and sends none of it. */
const announce = (path: string, bytes: number, type: string, cookie: string): Promise<number> =>
  wireTo(api.url)
    .say(headOf(api.url, 'POST', path, { cookie, 'content-type': type, 'content-length': bytes }))
    .status();

describe('a body that is too large', () => {
  test('is refused by its announced length, before a byte of it', async () => {
    const of = `/api/athletes/${athleteId}/imports`;
    const limits: [string, string, number][] = [
      ['/api/athletes', 'application/json', 64 * KIB],
      ['/api/sign-in', 'application/json', 64 * KIB],
      ['/api/import/preview', 'application/json', 512 * KIB],
      [`${of}/csv`, 'application/json', 128 * MIB],
      [`${of}/motion-bids`, 'application/x-tar', 256 * MIB],
    ];
    for (const [path, type, bytes] of limits)
      expect([path, await announce(path, bytes + 1, type, coach.cookie)]).toEqual([path, 413]);
    // Whoever may not send it at all hears that first: nobody is made to take in megabytes for a stranger.
    expect(await announce(`${of}/csv`, 100 * MIB, 'application/json', '')).toBe(401);
    expect(await announce(`${of}/csv`, 100 * MIB, 'application/json', stranger.cookie)).toBe(404);
    expect(await announce(`${of}/motion-bids`, 100 * MIB, 'application/x-tar', stranger.cookie)).toBe(404);
  });

  test('is refused when it announces no length, once it is too long', async () => {
    const head = headOf(api.url, 'POST', '/api/athletes', {
      ...{ cookie: coach.cookie, ...JSON_TYPE, 'transfer-encoding': 'chunked' },
    });
    const wire = wireTo(api.url).say(head);
    const chunk = `${(16 * KIB).toString(16)}\r\n${'x'.repeat(16 * KIB)}\r\n`;
    for (let i = 0; i < 5; i += 1) wire.say(chunk);
    expect(await wire.status()).toBe(413);
  });

  test('in many at once is not taken in more often than there is room for, until one of them ends', async () => {
    const path = `/api/athletes/${athleteId}/imports/motion-bids`;
    const lines = { cookie: coach.cookie, 'content-type': 'application/x-tar', 'content-length': 200 * MIB };
    const head = headOf(api.url, 'POST', path, lines);
    const coming = Array.from({ length: IMPORTS_WAITING_MAX + 1 }, () => wireTo(api.url).say(`${head}x`));
    const statuses = () => coming.flatMap((wire) => wire.statuses);
    await waitUntil('one is sent away', () => statuses().length > 0);
    expect((await fetch(`${api.url}/healthz`)).status).toBe(200);
    expect(statuses()).toEqual([503]);
    coming.forEach(({ socket }) => socket.destroy());
    const small = () => coach.ask('POST', path, 'no archive', { 'content-type': 'application/x-tar' });
    expect(await waitUntil('there is room again', async () => (await small()).status === 400)).toBe(true);
  });

  test('or of another type, or too deep, is refused in words', async () => {
    const post = async (body: string, type: string) =>
      (await coach.ask('POST', '/api/athletes', body, { 'content-type': type })).status;
    expect(await post('<name>x</name>', 'application/xml')).toBe(415);
    expect(await post('name=x', 'application/x-www-form-urlencoded')).toBe(415);
    expect(await post('{"name":"x"}', 'text/plain')).toBe(400);
    expect(await post('['.repeat(30_000), 'application/json')).toBe(400);
    expect(await post(`${'{"name":'.repeat(5000)}1${'}'.repeat(5000)}`, 'application/json')).toBe(400);
    expect(await post(`{"name":"x","bodyMassKg":1e999}`, 'application/json')).toBe(400);
    expect((await fetch(`${api.url}/healthz/alive`, { headers: { 'x-long': 'x'.repeat(20 * KIB) } })).status).toBe(431);
  });
});

describe('a request within a request', () => {
  test.each([
    ['a length and chunks', { 'content-length': 4, 'transfer-encoding': 'chunked' }],
    ['two kinds of chunks', { 'transfer-encoding': 'xchunked' }],
    ['a length that is none', { 'content-length': '4, 5' }],
    ['a negative length', { 'content-length': '-1' }],
  ])('by %s is refused, and what follows is not read', async (_what, lines) => {
    const inner = headOf(api.url, 'GET', '/api/me', { cookie: coach.cookie });
    const wire = wireTo(api.url).say(
      headOf(api.url, 'POST', '/api/sign-in', { ...JSON_TYPE, ...lines }) + `0\r\n\r\n${inner}`,
    );
    await wire.closed();
    expect(wire.statuses).toEqual([400]);
  });

  test('by a line break in a header is refused', async () => {
    const wire = wireTo(api.url).say(`GET /healthz/alive HTTP/1.1\r\nhost: x\r\nx-a: b\nset-cookie: c\r d: e\r\n\r\n`);
    expect(await wire.status()).toBe(400);
  });
});

describe('a slow client', () => {
  test('is cut off in its head and in its body, and others are answered meanwhile', async () => {
    const slowest = { headMsMax: 300, requestMsMax: 600, lookEveryMs: 50 };
    const app = makeHttpServer({ logger: pino({ level: 'silent' }), tls: null, behindProxy: false, slowest });
    app.post('/quick', { config: { access: openToAll('a test') } }, () => ({ done: true }));
    const url = await app.listen({ host: '127.0.0.1', port: 0 });
    try {
      const head = wireTo(url).say('POST /quick HTTP/1.1\r\nhost: x\r\nx-slow: ');
      const body = wireTo(url).say(headOf(url, 'POST', '/quick', { ...JSON_TYPE, 'content-length': 100 }) + '{"a":');
      expect((await fetch(`${url}/quick`, { method: 'POST' })).status).toBe(200);
      await Promise.all([head.closed(), body.closed()]);
      expect([...head.statuses, ...body.statuses]).toEqual([408, 408]);
    } finally {
      await app.close();
    }
  });

  test('is given limits by the whole server, and so are connections', () => {
    const { headersTimeout, requestTimeout, maxConnections } = api.app.server;
    for (const limit of [headersTimeout, requestTimeout, maxConnections]) expect(limit).toBeGreaterThan(0);
    expect(headersTimeout).toBeLessThanOrEqual(20_000);
    expect(requestTimeout).toBeLessThanOrEqual(300_000);
    expect(maxConnections).toBeLessThanOrEqual(5000);
  });

  test('of which there are hundreds keeps nobody else out', async () => {
    const idle = Array.from({ length: IDLE_CONNECTIONS }, () =>
      wireTo(api.url).say('GET /api/athletes HTTP/1.1\r\nhos'),
    );
    await waitUntil('all are connected', () => idle.every(({ socket }) => !socket.connecting));
    expect(idle.filter(({ isClosed }) => isClosed)).toEqual([]);
    expect((await coach.ask('GET', '/api/athletes')).status).toBe(200);
    expect((await fetch(`${api.url}/healthz`)).status).toBe(200);
  });
});
