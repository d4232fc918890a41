/** Markup, scripts and formulas in what people type. OWASP ASVS 4.0.3, 5.3.3, 14.3.3, 14.4 and 14.5.1; of formulas: MITRE CWE-1236. */
import { beforeAll, describe, expect, test } from 'vitest';
import type { Account, ApiError, AthleteSummary, Annotation, TrialView } from '../../shared/src/index.ts';
import { cellsOf } from '../../server/src/exchange/csv-lines.ts';
import type { Database } from '../../server/src/store/database.ts';
import { newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

/** Each would run somewhere if it were written into a page as it is. */
const SCRIPTS = [
  '<script>alert(1)</script>',
  '"><img src=x onerror=alert(1)>',
  '<svg/onload=alert(1)>',
  'javascript:alert(1)',
  '{{constructor.constructor("x")()}}',
  '</title><script>//',
  '\u202Etxt.exe & <b>',
];
/** What begins a formula in a spreadsheet. */
const FORMULAS = ['=1+1', '+1', '-1+1', '@SUM(1)', '\t=1', '\r=1', '=HYPERLINK("http://x","y")', `=cmd|'/c calc'!A1`];

let api: TestApp;
let database: Database;
let physio: Person & { account: Account };
let keeper: Person;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });
beforeAll(async () => {
  physio = await newPerson({ database, url: api.url }, ['physio', 'coach']);
  keeper = await newPerson({ database, url: api.url }, ['keeper']);
});

describe('markup in a text', () => {
  test.each(SCRIPTS)('is kept and given back as text, in JSON: %s', async (text) => {
    const created = await physio.ask<AthleteSummary>('POST', '/api/athletes', { name: text, notes: text });
    expect([created.status, created.body.name]).toEqual([201, text]);
    const of = `/api/athletes/${created.body.id}`;
    await physio.call('POST', `${of}/consents`, { purpose: 'recording', givenByName: text, guardianOf: text });
    const said = { kind: 'note', atUtcMs: 1e12, authorName: text, text };
    expect((await physio.call<Annotation>('POST', `${of}/annotations`, said)).text).toBe(text);
    const { trialIds } = await storeSession(database, created.body.id, 1e12, [{ task: 'run', difference: 1 }]);
    await physio.call('PATCH', `/api/trials/${trialIds[0]}`, { note: text, tags: [text] });
    for (const path of ['/api/athletes', `${of}/annotations`, `${of}/consents`, `/api/trials/${trialIds[0]}`]) {
      const { headers, body } = await physio.ask<unknown>('GET', path);
      expect([path, headers.get('content-type')]).toEqual([path, 'application/json; charset=utf-8']);
      expect(headers.get('x-content-type-options')).toBe('nosniff');
      expect(JSON.stringify(body)).toContain(JSON.stringify(text));
    }
    const trial = await physio.call<TrialView>('GET', `/api/trials/${trialIds[0]}`);
    expect([trial.note, trial.tags]).toEqual([text, [text]]);
  });

  test.each(SCRIPTS)('in a login is refused, in an address is told in JSON: %s', async (text) => {
    const account = { login: text, name: 'N', roles: ['coach'], athleteId: null };
    expect((await keeper.ask('POST', '/api/accounts', account)).status).toBe(400);
    for (const path of [`/${encodeURIComponent(text)}`, `/api/${encodeURIComponent(text)}`]) {
      const { status, headers } = await physio.ask<ApiError>('GET', path, undefined, { accept: 'text/html' });
      expect([path, status, headers.get('content-type')]).toEqual([path, 404, 'application/json; charset=utf-8']);
    }
  });
});

describe('every answer', () => {
  test('tells a browser to run and to load nothing of others, to guess no type and to keep nothing', async () => {
    const athleteId = await newAthleteOf(physio, 'Tyra');
    const addresses: [string, number][] = [
      ['/api/athletes', 200],
      ['/api/athletes/none/trials', 400],
      ['/api/nothing', 404],
      ['/nothing', 404],
      ['/api/accounts', 403],
      ['/healthz', 200],
      [`/api/athletes/${athleteId}/export/summaries.csv`, 200],
    ];
    for (const [path, expected] of addresses) {
      const { status, headers } = await physio.ask('GET', path);
      expect([path, status]).toEqual([path, expected]);
      const policy = headers.get('content-security-policy') ?? '';
      expect(policy.split(';')).toEqual(
        expect.arrayContaining([
          "default-src 'none'",
          "script-src 'self'",
          "frame-ancestors 'none'",
          "base-uri 'none'",
        ]),
      );
      expect(policy).not.toMatch(/unsafe|\*|https?:/);
      expect([headers.get('x-content-type-options'), headers.get('x-frame-options')]).toEqual(['nosniff', 'DENY']);
      expect(headers.get('referrer-policy')).toBe('no-referrer');
      expect(headers.get('content-type')).toMatch(/^(application\/json|text\/csv); charset=utf-8/);
      if (path.startsWith('/api/')) expect([path, headers.get('cache-control')]).toEqual([path, 'no-store']);
      for (const telling of ['server', 'x-powered-by', 'access-control-allow-origin'])
        expect([path, telling, headers.get(telling)]).toEqual([path, telling, null]);
    }
  });

  test('to a question of another site about methods allows nothing', async () => {
    const headers = { origin: 'http://elsewhere.example', 'access-control-request-method': 'DELETE' };
    const answer = await fetch(`${api.url}/api/athletes`, { method: 'OPTIONS', headers });
    expect(answer.status).toBe(404);
    expect(answer.headers.get('access-control-allow-origin')).toBeNull();
    for (const method of ['PUT', 'PATCH', 'PROPFIND', 'DELETE'])
      expect([method, (await physio.ask(method, '/api/athletes')).status]).toEqual([method, 404]);
  });
});

describe('a formula in a text', () => {
  test.each(FORMULAS)('does not run in the spreadsheet that opens an export: %j', async (text) => {
    const athleteId = await newAthleteOf(physio, text);
    const { trialIds } = await storeSession(database, athleteId, 1e12, [{ task: 'run', difference: -1 }]);
    await physio.call('PATCH', `/api/trials/${trialIds[0]}`, { note: text, tags: [text] });
    const { text: csv } = await physio.ask('GET', `/api/athletes/${athleteId}/export/summaries.csv`);
    const [head = '', ...rows] = csv.split('\r\n').filter((line) => line !== '');
    const names = cellsOf(head, ',');
    const row = cellsOf(rows[0]!, ',');
    // Blanks around a tag are not kept.
    const expected = { note: `'${text}`, tags: `'${text.trim()}` };
    for (const [name, cell] of Object.entries(expected)) expect([name, row[names.indexOf(name)]]).toEqual([name, cell]);
    // A number below 0 is a number still.
    expect(row[names.indexOf('left_minus_right_in_unit')]).toBe('-1');
    for (const cell of row) expect(cell).not.toMatch(/^[=+@\t\r]/);
  });
});
