import { describe, expect, test } from 'vitest';
import {
  IDLE_MS_MAX,
  OLD_TOKEN_GRACE_MS,
  ROTATE_AFTER_MS,
  SIGN_IN_MS_MAX,
  stateOfSignIn,
} from '../../server/src/access/sign-in-life.ts';
import {
  Attempts,
  FAILURES_FREE,
  FORGET_AFTER_MS,
  LOGINS_MAX,
  WAIT_MS_FIRST,
  WAIT_MS_MAX,
} from '../../server/src/access/attempts.ts';

const fresh = { startedUtcMs: 0, seenUtcMs: 0, tokenUtcMs: 0, confirmedUtcMs: 0 };
const HOUR_MS = 3_600_000;

describe('a sign-in', () => {
  test('ends after 12 hours in use and after 30 minutes without (OWASP ASVS 4.0.3, 3.3.2, level 2)', () => {
    expect(SIGN_IN_MS_MAX).toBe(12 * HOUR_MS);
    expect(IDLE_MS_MAX).toBe(HOUR_MS / 2);
    const used = { ...fresh, seenUtcMs: SIGN_IN_MS_MAX - 1, tokenUtcMs: SIGN_IN_MS_MAX - 1 };
    expect(stateOfSignIn(used, false, SIGN_IN_MS_MAX - 1)).toBe('good');
    expect(stateOfSignIn(used, false, SIGN_IN_MS_MAX)).toBe('over');
    expect(stateOfSignIn({ ...fresh, tokenUtcMs: 1000 }, false, IDLE_MS_MAX - 1)).not.toBe('over');
    expect(stateOfSignIn(fresh, false, IDLE_MS_MAX)).toBe('over');
  });

  test('gets a new value when the one it has is old', () => {
    expect(stateOfSignIn(fresh, false, ROTATE_AFTER_MS - 1)).toBe('good');
    expect(stateOfSignIn(fresh, false, ROTATE_AFTER_MS)).toBe('rotate');
  });

  test('goes on with the old value until the new one has come back, and a moment longer', () => {
    const unconfirmed = { ...fresh, tokenUtcMs: 1000, confirmedUtcMs: null };
    expect(stateOfSignIn(unconfirmed, true, 1000 + OLD_TOKEN_GRACE_MS - 1)).toBe('good');
    expect(stateOfSignIn(unconfirmed, true, 1000 + OLD_TOKEN_GRACE_MS)).toBe('reissue');
    expect(stateOfSignIn(unconfirmed, false, 2000)).toBe('confirm');
    const confirmed = { ...unconfirmed, confirmedUtcMs: 2000 };
    expect(stateOfSignIn(confirmed, true, 2000 + OLD_TOKEN_GRACE_MS - 1)).toBe('good');
    expect(stateOfSignIn(confirmed, true, 2000 + OLD_TOKEN_GRACE_MS)).toBe('stolen');
  });
});

describe('failed sign-ins', () => {
  function clock() {
    let nowMs = 0;
    return { attempts: new Attempts(() => nowMs), wait: (ms: number) => (nowMs += ms) };
  }

  test('are few an hour, far below the 100 of OWASP ASVS 4.0.3, 2.2.1', () => {
    const { attempts, wait } = clock();
    let tried = 0;
    // The first hour is the worst: the wait still grows.
    for (let ms = 0; ms < HOUR_MS; ms += 1000) {
      if (attempts.waitMs('a') === 0) {
        attempts.failed('a');
        tried += 1;
      }
      wait(1000);
    }
    expect(tried).toBeLessThan(20);
    expect(tried).toBeGreaterThanOrEqual(FAILURES_FREE);
  });

  test('make this login wait, twice as long each time, and no other', () => {
    const { attempts, wait } = clock();
    for (let i = 0; i < FAILURES_FREE - 1; i += 1) attempts.failed('a');
    expect(attempts.waitMs('a')).toBe(0);
    attempts.failed('a');
    expect(attempts.waitMs('a')).toBe(WAIT_MS_FIRST);
    expect(attempts.waitMs('b')).toBe(0);
    wait(WAIT_MS_FIRST);
    attempts.failed('a');
    expect(attempts.waitMs('a')).toBe(2 * WAIT_MS_FIRST);
    for (let i = 0; i < 20; i += 1) attempts.failed('a');
    expect(attempts.waitMs('a')).toBe(WAIT_MS_MAX);
    wait(WAIT_MS_MAX + FORGET_AFTER_MS);
    attempts.failed('a');
    expect(attempts.waitMs('a')).toBe(0);
  });

  test('are forgotten after a good one, and followed for a bounded number of logins', () => {
    const { attempts } = clock();
    for (let i = 0; i < FAILURES_FREE; i += 1) attempts.failed('a');
    attempts.succeeded('a');
    expect(attempts.waitMs('a')).toBe(0);
    for (let i = 0; i < FAILURES_FREE; i += 1) attempts.failed('a');
    for (let i = 0; i < LOGINS_MAX; i += 1) attempts.failed(`other ${i}`);
    expect(attempts.waitMs('a')).toBe(0);
    expect(attempts.waitMs(`other ${LOGINS_MAX - 1}`)).toBe(0);
  });
});
