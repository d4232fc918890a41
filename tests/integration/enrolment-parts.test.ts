/** What stands behind enrolment, without sockets and database. */
import { describe, expect, test } from 'vitest';
import { EnrolmentService } from '../../server/src/session/enrolment-service.ts';
import { Enrolments, hashOfToken } from '../../server/src/session/enrolments.ts';
import { REFUSED_SENSORS_MAX, RefusedSensors } from '../../server/src/session/refused-sensors.ts';
import { Turns } from '../../server/src/session/turns.ts';

const bytes = (text: string): Uint8Array => Buffer.from(text, 'ascii');

describe('the hash of a token', () => {
  test('is SHA-256 (the example "abc" of FIPS 180-2, appendix B.1)', () => {
    expect(Buffer.from(hashOfToken('abc')).toString('hex')).toBe(
      'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad',
    );
    expect(hashOfToken(bytes('abc'))).toEqual(hashOfToken('abc'));
  });
});

describe('the list of refused sensors', () => {
  test('holds so many and no more; the one refused longest ago goes', () => {
    let nowUtcMs = 1000;
    const refused = new RefusedSensors(() => nowUtcMs++);
    for (let k = 0; k < REFUSED_SENSORS_MAX; k++) refused.note(`made-up-${k}`, 'not-enrolled');
    expect(refused.list()).toHaveLength(REFUSED_SENSORS_MAX);
    refused.note('made-up-0', 'wrong-token');
    refused.note('one more', 'not-enrolled');
    const list = refused.list();
    expect(list).toHaveLength(REFUSED_SENSORS_MAX);
    expect(list[0]?.deviceId).toBe('one more');
    expect(list[1]).toMatchObject({ deviceId: 'made-up-0', reason: 'wrong-token', attempts: 2 });
    expect(list.some(({ deviceId }) => deviceId === 'made-up-1')).toBe(false);
  });
});

describe('a device without a hash', () => {
  test('is not let in by a token whose hash nobody has set', () => {
    const enrolments = new Enrolments([], new RefusedSensors(() => 0));
    expect(enrolments.admits('a', bytes(''))).toBe(false);
    expect(enrolments.admits('a', new Uint8Array(32))).toBe(false);
  });
});

describe('a store that fails', () => {
  test('leaves the token that a device has as it is', async () => {
    const refused = new RefusedSensors(() => 0);
    const enrolments = new Enrolments([['a', hashOfToken('old')]], refused);
    const expelled: string[] = [];
    const broken = () => {
      throw new Error('the disk is full');
    };
    const service = new EnrolmentService({
      db: { insert: broken, update: broken } as never,
      enrolments,
      expel: (deviceId) => expelled.push(deviceId),
      turns: new Turns(),
    });
    await expect(service.enrol('a')).rejects.toThrow('the disk is full');
    await expect(service.revoke('a')).rejects.toThrow('the disk is full');
    expect(enrolments.admits('a', bytes('old'))).toBe(true);
    expect(expelled).toEqual([]);
  });
});
