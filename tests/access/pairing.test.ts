/** A short code on the screen becomes the token of one device, once. OWASP ASVS 4.0.3, 2.7 and 2.9, for what a code must not do. */
import { afterEach, describe, expect, test } from 'vitest';
import type { ApiError, PairingCode, SensorEnrolment } from '../../shared/src/index.ts';
import {
  PAIRING_CODE_CHARACTERS,
  PAIRING_CODES_MAX,
  PAIRING_MS_MAX,
  PAIRING_TRIES_MAX,
  PairingCodes,
} from '../../server/src/session/pairing-codes.ts';
import { PAIRINGS_A_MINUTE_MAX } from '../../server/src/routes/pairing.ts';
import type { Database } from '../../server/src/store/database.ts';
import { knock, type Knock } from '../support/knock.ts';
import { Person, newAthleteOf, newPerson } from '../support/people.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

const NOT_ENROLLED = 4041;

describe('a pairing code', () => {
  const clock = { ms: 1_000_000 };
  const codesNow = () => new PairingCodes(() => clock.ms);

  test('has eight characters that are not taken for another, and is another each time', () => {
    const codes = codesNow();
    const made = Array.from({ length: 150 }, (_, i) => codes.open(`device-${i}`)!.code);
    expect(new Set(made).size).toBe(made.length);
    for (const code of made) expect(code).toMatch(/^[2-9A-HJKMNP-Z]{8}$/);
    expect(PAIRING_CODE_CHARACTERS).toBe(8);
  });

  test('is good once, for its device alone, however it is written', () => {
    const codes = codesNow();
    const { code } = codes.open('pelvis-1')!;
    codes.open('sternum-1');
    expect(codes.redeem('sternum-1', code)).toBe(false);
    const written = ` ${code.slice(0, 4).toLowerCase()}-${code.slice(4)} `;
    expect(codes.redeem('pelvis-1', written)).toBe(true);
    expect(codes.redeem('pelvis-1', code)).toBe(false);
  });

  test('is good for ten minutes, and not a moment longer', () => {
    const codes = codesNow();
    const { code, expiresUtcMs } = codes.open('a')!;
    expect(expiresUtcMs - clock.ms).toBe(PAIRING_MS_MAX);
    clock.ms += PAIRING_MS_MAX;
    expect(codes.redeem('a', code)).toBe(false);
    const { code: second } = codes.open('a')!;
    clock.ms += PAIRING_MS_MAX - 1;
    expect(codes.redeem('a', second)).toBe(true);
  });

  test('is void after some wrong ones, and when another is made', () => {
    const codes = codesNow();
    const { code } = codes.open('a')!;
    for (let i = 0; i < PAIRING_TRIES_MAX; i += 1) expect(codes.redeem('a', 'WRONGWRG')).toBe(false);
    expect(codes.redeem('a', code)).toBe(false);
    const { code: first } = codes.open('a')!;
    const { code: second } = codes.open('a')!;
    expect(codes.redeem('a', first)).toBe(false);
    expect(codes.redeem('a', second)).toBe(true);
  });

  test('is not made while too many are open', () => {
    const codes = codesNow();
    for (let i = 0; i < PAIRING_CODES_MAX; i += 1) expect(codes.open(`device-${i}`)).not.toBeNull();
    expect(codes.open('one-more')).toBeNull();
    expect(codes.open('device-7')).not.toBeNull();
    clock.ms += PAIRING_MS_MAX;
    expect(codes.open('one-more')).not.toBeNull();
  });
});

describe('a device', () => {
  let api: TestApp;
  let database: Database;
  useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });
  const devices: Knock[] = [];
  afterEach(() => devices.splice(0).forEach((device) => device.leave()));
  const knocks = (deviceId: string, token: string): Knock => {
    const device = knock(api.socketUrl, deviceId, token);
    devices.push(device);
    return device;
  };
  const codeFor = (who: Person, deviceId: string) =>
    who.call<PairingCode>('POST', `/api/sensors/${deviceId}/pairing-code`);
  /** As the device does it: without any cookie. */
  const pair = (deviceId: string, code: string) =>
    new Person(api.url).ask<{ token: string } & ApiError>('POST', '/api/pairing', { deviceId, code });

  test('gets its token for the code and is let in; the code is then worth nothing', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const { code } = await codeFor(coach, 'pair-1');
    const { status, body } = await pair('pair-1', code);
    expect(status).toBe(200);
    expect(body.token).toMatch(/^[0-9a-f]{64}$/);
    expect(await knocks('pair-1', body.token).answered()).toBe('welcome');
    expect(await knocks('pair-2', body.token).answered()).toBe(NOT_ENROLLED);
    const again = await pair('pair-1', code);
    expect([again.status, again.body.error.code]).toEqual([403, 'wrong-code']);
  });

  test('that is paired again has another token, and the one before is refused', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const { token: old } = await coach.call<SensorEnrolment>('POST', '/api/sensors/pair-3/enrolment');
    const { code } = await codeFor(coach, 'pair-3');
    expect(await knocks('pair-3', old).answered()).toBe('welcome');
    const { token } = (await pair('pair-3', code)).body;
    expect(await knocks('pair-3', old).answered()).toBe(NOT_ENROLLED);
    expect(await knocks('pair-3', token).answered()).toBe('welcome');
  });

  test('is told the same whether there is no code, a wrong one or no such device', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const { code } = await codeFor(coach, 'pair-4');
    const answers = await Promise.all([pair('pair-4', 'ABCD2345'), pair('pair-5', code), pair('nowhere', code)]);
    expect(new Set(answers.map(({ status, text }) => `${status} ${text}`)).size).toBe(1);
  });

  test('that an athlete wears is paired by those alone who may measure the athlete', async () => {
    const suite = { database, url: api.url };
    const [coach, other] = [await newPerson(suite, ['coach']), await newPerson(suite, ['coach', 'physio'])];
    const athleteId = await newAthleteOf(coach, 'Ilka');
    await coach.call('PUT', '/api/sensors/pair-6', { athleteId, place: 'pelvis' });
    for (const [method, path, body] of [
      ['POST', '/api/sensors/pair-6/pairing-code', undefined],
      ['POST', '/api/sensors/pair-6/enrolment', undefined],
      ['DELETE', '/api/sensors/pair-6/enrolment', undefined],
      ['PUT', '/api/sensors/pair-6', { athleteId: null, place: 'pelvis' }],
    ] as const)
      expect([method, path, (await other.ask(method, path, body)).status]).toEqual([method, path, 404]);
    expect((await codeFor(coach, 'pair-6')).code).toHaveLength(8);
  });

  test('is not paired by a page of another site', async () => {
    const coach = await newPerson({ database, url: api.url }, ['coach']);
    const { code } = await codeFor(coach, 'pair-8');
    const from = (origin: string) =>
      coach.ask<ApiError>('POST', '/api/pairing', { deviceId: 'pair-8', code }, { origin });
    for (const origin of ['http://elsewhere.example', 'null']) {
      const { status, body } = await from(origin);
      expect([origin, status, body.error.code]).toEqual([origin, 403, 'other-origin']);
    }
    expect((await from(api.url)).status).toBe(200);
  });

  test('cannot try codes without end', async () => {
    const statuses = await Promise.all(
      Array.from({ length: PAIRINGS_A_MINUTE_MAX + 5 }, async () => (await pair('pair-7', 'AAAA2222')).status),
    );
    expect(statuses.filter((status) => status === 429).length).toBeGreaterThanOrEqual(5);
  });
});
