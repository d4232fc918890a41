/** Base32 of RFC 4648, section 6, without the filling at the end: how the keys of one-time codes are written. */

const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567';
const BITS = 5;

export function base32Of(bytes: Uint8Array): string {
  let text = '';
  let held = 0;
  let value = 0;
  for (const byte of bytes) {
    value = (value << 8) | byte;
    held += 8;
    while (held >= BITS) {
      held -= BITS;
      text += ALPHABET[(value >> held) & 31];
    }
    value &= (1 << held) - 1;
  }
  return held > 0 ? text + ALPHABET[(value << (BITS - held)) & 31] : text;
}
