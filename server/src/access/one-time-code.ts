/**
 * One-time codes by time: RFC 6238 (TOTP) on RFC 4226 (HOTP), with SHA-1, six digits and 30 s, which every app for them knows. Pure.
 * SHA-1 is good here: the code is a keyed hash (RFC 4226, appendix B.2).
 */
import { createHmac, timingSafeEqual } from 'node:crypto';
import { CODE_DIGITS } from '@ambipede/shared';

/** As long as the hash (RFC 4226, section 4, R6). */
export const KEY_BYTES = 20;
export const STEP_S = 30;
/** A code of so many steps before or after is taken: clocks differ, and typing takes time (RFC 6238, section 5.2). */
export const STEPS_AROUND = 1;

/** RFC 4226, section 5.3. @param counter 0 to 2^53 - 1 */
export function hotp(key: Uint8Array, counter: number, digits: number): string {
  const message = Buffer.alloc(8);
  message.writeBigUInt64BE(BigInt(counter));
  const hash = createHmac('sha1', key).update(message).digest();
  const at = hash[hash.length - 1]! & 0xf;
  return String((hash.readUInt32BE(at) & 0x7fff_ffff) % 10 ** digits).padStart(digits, '0');
}

/** The time step of an instant (RFC 6238, section 4.2). */
export function stepOf(utcMs: number): number {
  return Math.floor(utcMs / 1000 / STEP_S);
}

/** The step that the code belongs to; null when it is of none about now. Blanks in it do not matter. */
export function stepOfCode(key: Uint8Array, typed: string, nowUtcMs: number): number | null {
  const code = Buffer.from(typed.replaceAll(/\s/g, ''));
  let found: number | null = null;
  for (let away = -STEPS_AROUND; away <= STEPS_AROUND; away += 1) {
    const step = stepOf(nowUtcMs) + away;
    const right = Buffer.from(hotp(key, step, CODE_DIGITS));
    // All are compared, whichever fits: the time tells nothing.
    if (code.length === right.length && timingSafeEqual(code, right)) found = step;
  }
  return found;
}
