/** Every route and both sockets stand behind one mechanism. OWASP ASVS 4.0.3, 4.1.1, 4.1.5 and 4.2.1. */
import Fastify from 'fastify';
import { describe, expect, test } from 'vitest';
import type { ApiError } from '../../shared/src/index.ts';
import { installGuard } from '../../server/src/access/guard.ts';
import { signInCookie } from '../../server/src/access/sign-in-cookie.ts';
import type { Access } from '../../server/src/access/access.ts';
import type { AuditLog } from '../../server/src/access/audit-log.ts';
import type { Database } from '../../server/src/store/database.ts';
import { Person, newAthleteOf, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

/** Nobody has to sign in for these, and why. A new one here is a decision. */
const OPEN_TO_ALL = ['POST /api/sign-in', 'GET /healthz', 'GET /healthz/alive', 'HEAD /healthz', 'HEAD /healthz/alive'];
/** A pairing code takes the place of a sign-in. */
const PAIRING = ['POST /api/pairing'];
const FROM_THE_MACHINE = ['GET /metrics', 'HEAD /metrics'];
const NOTHING = '6c84fb90-12c4-41e1-840d-7b25c5ee775a';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });
const routes = () =>
  api.app
    .accessRules()
    .flatMap(({ method, url, rule }) => method.split(',').map((one) => ({ method: one, url, rule: rule! })));
const addressOf = (url: string) =>
  url.replace(':deviceId', 'pelvis-1').replace(':step', 'forward_bow').replaceAll(/:\w+/g, NOTHING);
const bodyOf = (method: string) => (method === 'GET' || method === 'HEAD' || method === 'DELETE' ? undefined : {});

describe('every route', () => {
  test('has a rule, and is listed', () => {
    expect(routes().length).toBeGreaterThan(60);
    expect(routes().filter(({ rule }) => rule === undefined)).toEqual([]);
  });

  test('without a rule ends the start of the server', async () => {
    const app = Fastify();
    const none = {} as unknown;
    await installGuard(app, {
      ...{ access: none as Access, audit: none as AuditLog, signIns: null, cookie: signInCookie(false) },
      publicUrl: null,
    });
    app.get('/api/forgotten', () => 'everything');
    await expect(app.ready()).rejects.toThrow('The route GET /api/forgotten has no access rule');
  });

  test('that is open to all is one of a few that are known', () => {
    const open = routes().filter(({ rule }) => rule.kind === 'public');
    const found = open.map(({ method, url }) => `${method} ${url}`).filter((each) => !PAIRING.includes(each));
    expect(found.sort()).toEqual([...OPEN_TO_ALL].sort());
  });

  test('but those asks who it is, with nothing, with a forged cookie and with an old one', async () => {
    const stranger = new Person(api.url);
    const gone = await newPerson({ database, url: api.url }, ['keeper']);
    const old = gone.cookie;
    await gone.call('POST', '/api/sign-out');
    for (const cookie of ['', 'ambipede=x', `ambipede=${'A'.repeat(43)}`, "ambipede='; drop table accounts; --", old]) {
      for (const { method, url, rule } of routes()) {
        if (rule.kind === 'public' || FROM_THE_MACHINE.includes(`${method} ${url}`)) continue;
        stranger.cookie = cookie;
        const { status, text } = await stranger.ask<ApiError>(method, addressOf(url), bodyOf(method));
        expect([`${method} ${url}`, status]).toEqual([`${method} ${url}`, 401]);
        if (method !== 'HEAD') expect(text).toContain('not-signed-in');
      }
    }
  });

  test('that changes something refuses a request from another site, whoever is signed in', async () => {
    const keeper = await newPerson({ database, url: api.url }, ['keeper', 'coach', 'physio']);
    for (const origin of ['http://elsewhere.example', 'null', `${api.url}.elsewhere.example`, 'http://127.0.0.1:1']) {
      for (const { method, url } of routes()) {
        if (method === 'GET' || method === 'HEAD') continue;
        const { status, text } = await keeper.ask(method, addressOf(url), bodyOf(method), { origin });
        expect([`${method} ${url}`, status]).toEqual([`${method} ${url}`, 403]);
        expect(text).toContain('other-origin');
      }
    }
    const unsaid = await fetch(`${api.url}/api/sessions`, { method: 'POST', headers: { cookie: keeper.cookie } });
    expect(unsaid.status).toBe(403);
  });

  test('of an athlete answers as if there were none to whoever has nothing to do with them', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const athleteId = await newAthleteOf(coach, 'Ida');
    const { id: sessionId } = await coach.call<{ id: string }>('POST', '/api/sessions', { athleteId });
    const other = await newPerson({ database, url: api.url }, ['coach', 'physio']);
    let asked = 0;
    for (const { method, url, rule } of routes()) {
      if (rule.kind !== 'athlete' || !['athlete', 'session'].includes(rule.of.what) || method === 'HEAD') continue;
      const id = rule.of.what === 'session' ? sessionId : athleteId;
      const [own, none] = await Promise.all(
        [id, NOTHING].map((each) => other.ask(method, addressOf(url.replace(':id', each)), bodyOf(method))),
      );
      if (own!.status === 400) continue;
      asked += 1;
      expect([url, own!.status, own!.text]).toEqual([url, none!.status, none!.text]);
      expect([url, own!.status]).toEqual([url, 404]);
    }
    expect(asked).toBeGreaterThan(12);
  });
});
