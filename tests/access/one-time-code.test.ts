/**
 * One-time codes against the published vectors: RFC 4226, appendix D; RFC 6238, appendix B; RFC 4648, section 10. The numbers were written down from
 * memory and compared with what Debian's `oathtool` 2.6 makes of the same keys and times.
 */
import { describe, expect, test } from 'vitest';
import { base32Of } from '../../server/src/access/base32.ts';
import { STEP_S, STEPS_AROUND, hotp, stepOf, stepOfCode } from '../../server/src/access/one-time-code.ts';

const KEY = Buffer.from('12345678901234567890');

test('by count are those of RFC 4226, appendix D', () => {
  const printed = ['755224', '287082', '359152', '969429', '338314', '254676', '287922', '162583', '399871', '520489'];
  expect(printed.map((_code, count) => hotp(KEY, count, 6))).toEqual(printed);
});

test.each([
  [59, '94287082'],
  [1_111_111_109, '07081804'],
  [1_111_111_111, '14050471'],
  [1_234_567_890, '89005924'],
  [2_000_000_000, '69279037'],
  [20_000_000_000, '65353130'],
])('by time are those of RFC 6238, appendix B: at %d s %s', (seconds, printed) => {
  expect(hotp(KEY, stepOf(seconds * 1000), 8)).toBe(printed);
});

test.each([
  ['', ''],
  ['f', 'MY'],
  ['fo', 'MZXQ'],
  ['foo', 'MZXW6'],
  ['foob', 'MZXW6YQ'],
  ['fooba', 'MZXW6YTB'],
  ['foobar', 'MZXW6YTBOI'],
])('base32 of %j is that of RFC 4648, section 10, without the filling: %s', (plain, printed) => {
  expect(base32Of(Buffer.from(plain))).toBe(printed);
});

describe('a code that is typed', () => {
  const NOW_MS = 1_111_111_111_000;
  const codeAt = (stepsAway: number) => hotp(KEY, stepOf(NOW_MS) + stepsAway, 6);

  test('is that of now, or of one step before or after, and tells which', () => {
    expect([STEP_S, STEPS_AROUND]).toEqual([30, 1]);
    for (const away of [-1, 0, 1]) expect(stepOfCode(KEY, codeAt(away), NOW_MS)).toBe(stepOf(NOW_MS) + away);
    for (const away of [-2, 2]) expect(stepOfCode(KEY, codeAt(away), NOW_MS)).toBeNull();
  });

  test('may have the blank that apps show, and nothing else', () => {
    const code = codeAt(0);
    expect(stepOfCode(KEY, ` ${code.slice(0, 3)} ${code.slice(3)}`, NOW_MS)).toBe(stepOf(NOW_MS));
    for (const wrong of ['', code.slice(1), `${code}0`, `${code.slice(0, 5)}x`, '٠'.repeat(6)])
      expect(stepOfCode(KEY, wrong, NOW_MS)).toBeNull();
  });

  test('of another key is none', () => {
    const other = Buffer.from('09876543210987654321');
    expect(stepOfCode(other, codeAt(0), NOW_MS)).toBeNull();
  });
});
