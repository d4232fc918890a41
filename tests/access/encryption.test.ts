/** The server with a certificate of its own, and behind a proxy that ends TLS. OWASP ASVS 4.0.3, 3.4, 9.1 and 14.4. */
import { readFileSync } from 'node:fs';
import https from 'node:https';
import { connect as connectTls } from 'node:tls';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import WebSocket from 'ws';
import type { SensorEnrolment } from '../../shared/src/index.ts';
import { hashOfPassword } from '../../server/src/access/passwords.ts';
import { addAccount } from '../../server/src/store/accounts.ts';
import type { Database } from '../../server/src/store/database.ts';
import { knock } from '../support/knock.ts';
import { PASSWORD } from '../support/people.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';

const pem = (name: string): Buffer =>
  readFileSync(new URL(`../support/certificate/test-only-${name}.pem`, import.meta.url));
const ca = pem('certificate');

let server: TestPostgres;
let database: Database;
beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  await addAccount(database.db, {
    ...{ login: 'coach', name: 'Coach', roles: ['coach'], athleteId: null, createdUtcMs: 0, closedUtcMs: null },
    ...{ passwordHash: await hashOfPassword(PASSWORD), passwordIsFirst: false },
  });
});
afterAll(() => server?.stop());

interface Answer {
  status: number;
  headers: NodeJS.Dict<string | string[]>;
  body: string;
}
function ask(
  url: string,
  method: string,
  path: string,
  headers: Record<string, string>,
  body?: object,
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const json = body && JSON.stringify(body);
    const request = https.request(
      url + path,
      { method, ca, headers: { origin: url, ...(json && { 'content-type': 'application/json' }), ...headers } },
      (response) => {
        let text = '';
        response.on('data', (piece) => (text += String(piece)));
        response.on('end', () => resolve({ status: response.statusCode!, headers: response.headers, body: text }));
      },
    );
    request.on('error', reject);
    request.end(json);
  });
}
const cookieIn = ({ headers }: Answer): string => headers['set-cookie']![0]!;

describe('with a certificate of its own', () => {
  let api: TestApp;
  let cookie: string;
  beforeAll(async () => {
    const tls = { cert: ca, key: pem('key') };
    api = await startTestApp(database, { access: WITH_ACCOUNTS, tls });
  });
  afterAll(() => api?.close());

  test('the cookie goes over TLS alone, to this host alone, and no script reads it', async () => {
    expect(api.url).toMatch(/^https:/);
    const signIn = await ask(api.url, 'POST', '/api/sign-in', {}, { login: 'coach', password: PASSWORD });
    expect(signIn.status).toBe(200);
    const [pair, ...flags] = cookieIn(signIn).split('; ');
    cookie = pair!;
    expect(pair).toMatch(/^__Host-ambipede=[\w-]{43}$/);
    expect(flags.sort()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict', 'Secure']);
    expect((await ask(api.url, 'GET', '/api/me', { cookie })).status).toBe(200);
  });

  test('browsers are told to come over TLS from now on', async () => {
    const { headers } = await ask(api.url, 'GET', '/healthz/alive', {});
    expect(Number(/max-age=(\d+)/.exec(String(headers['strict-transport-security']))![1])).toBeGreaterThan(15_000_000);
  });

  test('an older TLS than 1.2 is refused', async () => {
    const { port } = new URL(api.url);
    const failed = await new Promise<string>((resolve) => {
      const old = connectTls({
        host: '127.0.0.1',
        port: Number(port),
        ca,
        minVersion: 'TLSv1.1',
        maxVersion: 'TLSv1.1',
      });
      old.on('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? error.message));
      old.on('secureConnect', () => resolve('connected'));
    });
    expect(failed).not.toBe('connected');
    const current = await new Promise<string | null>((resolve, reject) => {
      const socket = connectTls({ host: '127.0.0.1', port: Number(port), ca, maxVersion: 'TLSv1.2' }, () => {
        resolve(socket.getProtocol());
        socket.destroy();
      });
      socket.on('error', reject);
    });
    expect(current).toBe('TLSv1.2');
  });

  test('plain HTTP gets no answer', async () => {
    await expect(fetch(api.url.replace('https', 'http'))).rejects.toThrow();
  });

  test('dashboards and sensors come over wss', async () => {
    const athlete = await ask(api.url, 'POST', '/api/athletes', { cookie }, { name: 'Ida' });
    const { id } = JSON.parse(athlete.body) as { id: string };
    const consent = { purpose: 'recording', givenByName: 'Ida', guardianOf: null };
    await ask(api.url, 'POST', `/api/athletes/${id}/consents`, { cookie }, consent);
    const address = `${api.url.replace('https', 'wss')}/live?athlete=${id}`;
    const viewer = new WebSocket(address, { ca, headers: { cookie, origin: api.url } });
    const first = await new Promise<string>((resolve, reject) => {
      viewer.once('message', (data) => resolve(String(data)));
      viewer.once('error', reject);
    });
    viewer.terminate();
    expect(JSON.parse(first)).toMatchObject({ type: 'hello', athleteId: id });
    const enrolled = await ask(api.url, 'POST', '/api/sensors/tls-pelvis/enrolment', { cookie });
    const { token } = JSON.parse(enrolled.body) as SensorEnrolment;
    const sensor = knock(api.url.replace('https', 'wss'), 'tls-pelvis', token, 1, ca);
    expect(await sensor.answered()).toBe('welcome');
    sensor.leave();
  });
});

describe('behind a proxy that ends TLS', () => {
  const PUBLIC = 'https://lanes.example';
  let api: TestApp;
  beforeAll(async () => {
    api = await startTestApp(database, { access: { ...WITH_ACCOUNTS, publicUrl: PUBLIC } as typeof WITH_ACCOUNTS });
  });
  afterAll(() => api?.close());
  const signIn = (headers: Record<string, string>) =>
    fetch(`${api.url}/api/sign-in`, {
      method: 'POST',
      headers: { 'content-type': 'application/json', ...headers },
      body: JSON.stringify({ login: 'coach', password: PASSWORD }),
    });

  test('the cookie is marked for TLS, and pages of the public address alone may act', async () => {
    const answer = await signIn({ origin: PUBLIC });
    expect(answer.status).toBe(200);
    expect(answer.headers.get('set-cookie')).toMatch(/^__Host-ambipede=.*; Secure/);
    expect((await signIn({ origin: api.url })).status).toBe(403);
    expect((await signIn({ origin: 'http://lanes.example' })).status).toBe(403);
  });

  test('what came through the proxy is not from this machine', async () => {
    expect((await fetch(`${api.url}/metrics`)).status).toBe(200);
    const forwarded = await fetch(`${api.url}/metrics`, { headers: { 'x-forwarded-for': '203.0.113.9' } });
    expect(forwarded.status).toBe(401);
    const claimed = await fetch(`${api.url}/metrics`, { headers: { 'x-forwarded-for': '127.0.0.1' } });
    expect(claimed.status).toBe(401);
  });
});
