/** Names and contents of files as an attacker would choose them: archives, addresses of pages, names of exports. OWASP ASVS 4.0.3, 5.3.9 and 12.3. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Account, ApiError } from '../../shared/src/index.ts';
import { readTar } from '../../server/src/exchange/tar-reader.ts';
import { TAR, tarOf } from '../../server/src/exchange/tar.ts';
import type { Database } from '../../server/src/store/database.ts';
import { newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { storeSession } from '../support/stored-sessions.ts';
import { useTestApp } from '../support/suite-app.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';
import { Wire, headOf } from './attack-wire.ts';

const SECRET = 'outside of the pages';
const PAGE = '<!doctype html><title>the page</title>';
const EVIL_NAME = 'Eve\r\nset-cookie: ambipede=x\r\n"; filename="evil.exe"';

let database: Database;
let folder: string;
let api: TestApp;
let coach: Person & { account: Account };
let athleteId: string;
useTestApp((suite) => ({ database } = suite));
beforeAll(async () => {
  folder = mkdtempSync(path.join(tmpdir(), 'ambipede-attack-'));
  mkdirSync(path.join(folder, 'web', 'assets'), { recursive: true });
  writeFileSync(path.join(folder, 'secret.txt'), SECRET);
  writeFileSync(path.join(folder, 'web', 'index.html'), PAGE);
  writeFileSync(path.join(folder, 'web', 'assets', 'app.js'), 'let a');
  api = await startTestApp(database, { access: WITH_ACCOUNTS, webDir: path.join(folder, 'web') });
  coach = await newPerson({ database, url: api.url }, ['coach', 'keeper']);
  athleteId = await newAthleteOf(coach, EVIL_NAME);
});
afterAll(async () => {
  await api?.close();
  rmSync(folder, { recursive: true, force: true });
});

/** Written over an archive of one file, with the checksum made anew. */
function forged(...changes: [at: number, text: string][]): Buffer {
  const bytes = Buffer.concat(tarOf([{ path: 'recording/a.tsv', parts: [Buffer.from('1\t2\n')] }], 1));
  for (const [at, text] of changes) {
    if (at === 0) bytes.fill(0, 0, TAR.nameBytesMax);
    bytes.write(text, at, 'latin1');
  }
  bytes.fill(0x20, 148, 156);
  const sum = bytes.subarray(0, TAR.blockBytes).reduce((total, byte) => total + byte, 0);
  bytes.write(`${sum.toString(8).padStart(6, '0')}\0 `, 148, 'latin1');
  return bytes;
}

/** A file behind an extended header of pax that gives it another name. */
function renamed(name: string): Buffer {
  const record = ` path=${name}\n`;
  const length = String(record.length + 2);
  const header = Buffer.concat(tarOf([{ path: 'x', parts: [Buffer.from(`${length}${record}`)] }], 1)).subarray(0, 1024);
  header.write('x', 156, 'latin1');
  header.fill(0x20, 148, 156);
  const sum = header.subarray(0, TAR.blockBytes).reduce((total, byte) => total + byte, 0);
  header.write(`${sum.toString(8).padStart(6, '0')}\0 `, 148, 'latin1');
  return Buffer.concat([header, forged()]);
}

const HUGE_OCTAL = '77777777777';
const ARCHIVES: [string, () => Buffer, RegExp][] = [
  ['with a way upwards', () => forged([0, '../../evil.tsv']), /leads out of it/],
  ['with an absolute name', () => forged([0, '/etc/cron.d/evil']), /leads out of it/],
  ['with a way upwards in an extended header', () => renamed('../ev'), /leads out of it/],
  ['with a symbolic link', () => forged([156, '2'], [157, '/etc/passwd']), /symbolic link/],
  ['with a device', () => forged([156, '3']), /device/],
  ['with a file said to be of 8 GiB', () => forged([124, HUGE_OCTAL]), /cut short/],
  ['that is gzip of much more', () => gzipSync(Buffer.alloc(50_000_000)), /gunzip/],
  ['that is a zip', () => Buffer.concat([Buffer.from('PK\x03\x04'), Buffer.alloc(2000)]), /no tar archive/],
  ['of nothing', () => Buffer.alloc(1024), /./],
];

describe('an archive', () => {
  test.each(ARCHIVES)('%s is refused in words, and nothing of it is kept', async (_what, bytes, message) => {
    const response = await fetch(`${api.url}/api/athletes/${athleteId}/imports/motion-bids?fileName=..%2F..%2Fevil`, {
      method: 'POST',
      headers: { origin: api.url, cookie: coach.cookie, 'content-type': 'application/x-tar' },
      body: new Uint8Array(bytes()),
    });
    const answer = (await response.json()) as ApiError;
    expect([response.status, answer.error.message]).toEqual([400, expect.stringMatching(message)]);
    const [count] = await database.sql`select count(*)::int as n from sessions where athlete_id = ${athleteId}`;
    expect(count!['n']).toBe(0);
  });
});

describe('the address of a page', () => {
  const WAYS = [
    ...['/../secret.txt', '/..%2fsecret.txt', '/%2e%2e/secret.txt', '/%2e%2e%2fsecret.txt', '/..%5csecret.txt'],
    ...['/assets/../../secret.txt', '/assets/..%2f..%2fsecret.txt', '//secret.txt', '/....//secret.txt', '/%00'],
    ...['/..%00/secret.txt', '/secret.txt%00.html', '/%252e%252e/secret.txt', '/..%c0%afsecret.txt', '/%'],
    ...['/assets', '/assets/', '/./', '/.git/config', '/../web/../secret.txt', 'http://x/../secret.txt', '*'],
  ];

  test.each(WAYS)('%s leads to no file outside, to no list of files and to no failure', async (way) => {
    const wire = new Wire(api.url).say(headOf(api.url, 'GET', way, { accept: 'text/html', connection: 'close' }));
    await wire.closed();
    const [status] = wire.statuses;
    expect([way, status === 200 || (status! >= 300 && status! < 500)]).toEqual([way, true]);
    expect(wire.received).not.toContain(SECRET);
    expect(wire.received).not.toContain('app.js');
    expect(wire.received).not.toContain(folder);
    if (status === 200) expect(wire.received).toContain(PAGE);
  });

  test('is still that of the page and of its parts', async () => {
    expect(await (await fetch(`${api.url}/`)).text()).toBe(PAGE);
    expect((await fetch(`${api.url}/assets/app.js`)).status).toBe(200);
  });
});

describe('the name of an export', () => {
  test('is made by the server: a name with line breaks and quotes reaches no header and no path', async () => {
    const keeper = await newPerson({ database, url: api.url }, ['keeper']);
    const { trialIds } = await storeSession(database, athleteId, 1e12, [{ task: 'run', difference: 1 }]);
    await coach.call('PATCH', `/api/trials/${trialIds[0]}`, { note: EVIL_NAME, tags: ['../../x', '"\r\nx: y'] });
    const of = `/api/athletes/${athleteId}/export`;
    const exports: [Person, string][] = [
      [coach, `/api/trials/${trialIds[0]}/export/stances.csv`],
      [coach, `/api/trials/${trialIds[0]}/export/fhir.json`],
      [coach, `${of}/summaries.csv`],
      [keeper, `${of}/everything.tar`],
    ];
    const paths = api.app.accessRules().filter(({ method, url }) => method === 'GET' && url.includes('/export/'));
    // That of samples needs samples: tests/integration/exports.test.ts.
    expect(paths).toHaveLength(exports.length + 1);
    for (const [person, address] of exports) {
      const { status, headers } = await person.ask('GET', address);
      expect([address, status]).toEqual([address, 200]);
      expect(headers.get('content-disposition')).toMatch(/^attachment; filename="[a-z0-9.-]+"$/);
      expect([headers.get('cache-control'), headers.get('x-content-type-options')]).toEqual(['no-store', 'nosniff']);
      expect(headers.getSetCookie()).toEqual([]);
      expect(headers.get('content-type')).not.toContain('html');
    }
    const tar = await fetch(`${api.url}${of}/everything.tar`, { headers: { cookie: keeper.cookie } });
    const entries = readTar(new Uint8Array(await tar.arrayBuffer()));
    expect(entries.length).toBeGreaterThan(5);
    for (const entry of entries) expect(entry.path).toMatch(/^athlete-[0-9a-f]{12}\/[a-z0-9/.-]+$/i);
  });

  test('of a sensor cannot hold a path', async () => {
    for (const id of ['..%2f..%2fetc', 'a%2fb', 'a%00', 'a%0d%0ab', '%20'])
      expect([id, (await coach.ask('PUT', `/api/sensors/${id}`, { athleteId, place: 'pelvis' })).status]).toEqual([
        id,
        400,
      ]);
  });
});
