import { describe, expect, test } from 'vitest';
import { PASSWORD_CHARACTERS_MAX, PASSWORD_CHARACTERS_MIN } from '../../shared/src/index.ts';
import {
  PASSWORD_CHECKS_WAITING_MAX,
  TooManyWaiting,
  faultOfPassword,
  hashOfPassword,
  isPassword,
  newFirstPassword,
} from '../../server/src/access/passwords.ts';

describe('a password', () => {
  // OWASP ASVS 4.0.3: 2.1.1 at least 12 characters, 2.1.2 64 and more are allowed, 2.1.4 any printable Unicode character.
  test.each([
    ['tartan lanes at six', null],
    ['x7'.repeat(6), /repeats/],
    ['elevenchars', /at least 12/],
    ['Zwölf Bäume!', null],
    ['🏃🏽‍♀️ läuft nach rechts', null],
    [`${'long words '.repeat(12)}`.slice(0, PASSWORD_CHARACTERS_MAX), null],
    [`${'long words '.repeat(13)}`.slice(0, PASSWORD_CHARACTERS_MAX + 1), /at most 128/],
    ['Ambipede2026', /guessed first/],
    ['brook.a-1234567890', /guessed first/],
    ['qwertyuiopasdfghjkl', /guessed first/],
  ])('%j is taken, or said why not', (password, fault) => {
    const said = faultOfPassword(password, 'brook.a');
    if (fault === null) expect(said).toBeNull();
    else expect(said).toMatch(fault);
  });

  test('is kept as Argon2id with the cost of RFC 9106, section 4, and a salt of its own', async () => {
    const [one, other] = [await hashOfPassword('tartan lanes at six'), await hashOfPassword('tartan lanes at six')];
    expect(one).toMatch(/^\$argon2id\$v=19\$m=65536,t=3,p=4\$/);
    expect(one).not.toBe(other);
    expect(await isPassword('tartan lanes at six', one)).toBe(true);
    expect(await isPassword('tartan lanes at Six', one)).toBe(false);
    expect(await isPassword('tartan lanes at six', null)).toBe(false);
  });

  test('is the same however its letters are composed (NIST SP 800-63B, 5.1.1.2)', async () => {
    const hash = await hashOfPassword('Zw\u00f6lf B\u00e4ume!');
    expect(await isPassword('Zwo\u0308lf Ba\u0308ume!', hash)).toBe(true);
  });

  test('that is given first is long, differs each time, and passes the rules', () => {
    const given = Array.from({ length: 50 }, newFirstPassword);
    expect(new Set(given).size).toBe(50);
    for (const each of given) {
      expect(each.length).toBeGreaterThanOrEqual(PASSWORD_CHARACTERS_MIN);
      expect(faultOfPassword(each, 'keeper')).toBeNull();
    }
  });

  test('is not checked for more at once than may wait', async () => {
    const hash = await hashOfPassword('tartan lanes at six');
    const checks = Array.from({ length: PASSWORD_CHECKS_WAITING_MAX + 1 }, () => isPassword('wrong', hash));
    const answers = await Promise.allSettled(checks);
    expect(answers.filter(({ status }) => status === 'fulfilled')).toHaveLength(PASSWORD_CHECKS_WAITING_MAX);
    const refused = answers[PASSWORD_CHECKS_WAITING_MAX];
    expect(refused?.status === 'rejected' && refused.reason).toBeInstanceOf(TooManyWaiting);
  });
});
