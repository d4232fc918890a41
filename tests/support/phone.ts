/** The app on somebody's phone that makes one-time codes from the key that it was given. */
import { hotp, stepOf } from '../../server/src/access/one-time-code.ts';

const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567';

/** @param key base32 (RFC 4648, section 6), as the page shows it */
export function codeOf(key: string, step = stepOf(Date.now())): string {
  const bits = [...key].map((letter) => ALPHABET.indexOf(letter).toString(2).padStart(5, '0')).join('');
  const bytes = Uint8Array.from(bits.match(/.{8}/g)!.map((byte) => parseInt(byte, 2)));
  return hotp(bytes, step, 6);
}
