/** `npm run replay` against a server that asks who it is, as a process of its own: the password comes by standard input or by a terminal. */
import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleAthlete, realistic, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { TrialSummary } from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { Workshop } from '../cases/analyse/command.ts';
import { PASSWORD, newAthleteOf, newPerson, type Person } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { waitUntil } from '../support/wait-until.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
/** Runs a command on a terminal of its own: util-linux. */
const SCRIPT = '/usr/bin/script';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });

let workshop: Workshop;
let recording: string;
beforeAll(() => {
  workshop = new Workshop();
  const [pelvis, sternum] = [realistic('pelvis', 2, { rateHz: 100 }), realistic('sternum', 3, { rateHz: 100 })];
  const script = [{ kind: 'stand', seconds: 2 }] as const;
  recording = workshop.write(
    'standing',
    simulateSession({ seed: 2, athlete: exampleAthlete(2), sensors: { pelvis, sternum }, script }),
  );
});
afterAll(() => workshop.remove());

const commandOf = (...args: string[]): string[] => [
  ...['--import', 'tsx', 'server/src/replay-command.ts'],
  ...[recording, '--url', api.socketUrl, ...args],
];

interface Ended {
  code: number | null;
  out: string;
}

/** @param typed is written when `until` has been said; standard input stays open when it is null */
function run(command: string, args: string[], typed: string | null, until: RegExp | null = null): Promise<Ended> {
  const child = spawn(command, args, { cwd: ROOT, env: { PATH: process.env['PATH'], SHELL: '/bin/sh' } });
  let out = '';
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (data) => (out += String(data)));
  const ended = new Promise<Ended>((resolve) => child.once('close', (code) => resolve({ code, out })));
  if (typed !== null)
    void waitUntil('it asks', () => until === null || until.test(out), 20_000).then(
      () => child.stdin.write(typed),
      () => child.kill(),
    );
  return ended;
}
const replay = (typed: string | null, ...args: string[]): Promise<Ended> =>
  run(process.execPath, commandOf(...args), typed);

const loginOf = (person: Person & { account: { login: string } }): string => person.account.login;
const signInsOf = async (login: string): Promise<number> =>
  (
    await database.sql`
      select from sign_ins join accounts on accounts.id = sign_ins.account_id where accounts.login = ${login}`
  ).length;

describe('a replay to a server with accounts', () => {
  /** One for all that get far: who wears the sensors of a replay decides who may enrol them again. */
  let coach: Awaited<ReturnType<typeof newPerson>>;
  beforeAll(async () => {
    coach = await newPerson({ database, url: api.url }, ['coach']);
  });

  test('that names nobody is told how, and nothing is stored', async () => {
    const { code, out } = await replay(null);
    expect([code, out]).toEqual([1, expect.stringContaining('Give --login NAME')]);
  });

  test('with a wrong password, or none, is refused', async () => {
    const login = loginOf(await newPerson({ database, url: api.url }, ['coach']));
    const wrong = await replay('not this one\n', '--login', login);
    expect([wrong.code, wrong.out]).toEqual([1, expect.stringContaining('do not belong together')]);
    const none = await replay('\n', '--login', login);
    expect([none.code, none.out]).toEqual([1, expect.stringContaining('No password was given')]);
    const asArgument = await replay(null, '--login', login, '--password', PASSWORD);
    expect([asArgument.code, asArgument.out]).toEqual([1, expect.stringContaining("Unknown option '--password'")]);
  });

  test('says that there is no consent to recording, and signs out all the same', async () => {
    await newAthleteOf(coach, 'Ilka', []);
    const { code, out } = await replay(`${PASSWORD}\n`, '--login', loginOf(coach), '--athlete', 'Ilka');
    expect([code, out]).toEqual([1, expect.stringMatching(/refused \(403\): .*consent/)]);
    expect(await signInsOf(loginOf(coach))).toBe(1);
  });

  test('signs in with the first line of standard input, plays, and signs out', async () => {
    const athleteId = await newAthleteOf(coach, 'Replay');
    // Standard input stays open behind the line.
    const { code, out } = await replay(`${PASSWORD}\n`, '--login', loginOf(coach));
    expect([code, out]).toEqual([0, expect.stringContaining('stand stop')]);
    const trials = await coach.call<TrialSummary[]>('GET', `/api/athletes/${athleteId}/trials`);
    expect(trials.map(({ task }) => task)).toEqual(['stand']);
    expect(await signInsOf(loginOf(coach))).toBe(1);
    expect(out + api.log.join('')).not.toContain(PASSWORD);
  });

  test.skipIf(!existsSync(SCRIPT))('asks for it on a terminal and does not show it', async () => {
    await newAthleteOf(coach, 'Terminal');
    const args = commandOf('--login', loginOf(coach), '--athlete', 'Terminal');
    const line = [process.execPath, ...args].map((arg) => `'${arg}'`).join(' ');
    const onTerminal = (typed: string): Promise<Ended> =>
      run(SCRIPT, ['--quiet', '--return', '--command', line, '/dev/null'], typed, /Password: /);
    const played = await onTerminal(`${PASSWORD}\r`);
    expect([played.code, played.out]).toEqual([0, expect.stringContaining('stand stop')]);
    expect(played.out).not.toContain(PASSWORD.slice(0, 5));
    const interrupted = await onTerminal('half a pass\u0003');
    expect([interrupted.code, interrupted.out]).toEqual([1, expect.stringContaining('No password was given')]);
  });
});
