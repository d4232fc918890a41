/** Short codes that a person carries from the screen to a device: each good once, for one device, for a few minutes. In memory. */
import { createHash, randomInt, timingSafeEqual } from 'node:crypto';

/** No characters that are taken for another: 31 of them, so 8 hold 39 bits. */
const CHARACTERS = '23456789ABCDEFGHJKMNPQRSTUVWXYZ';
export const PAIRING_CODE_CHARACTERS = 8;
export const PAIRING_MS_MAX = 10 * 60_000;
/** Of one code: with so many guesses 1 in 10^11 is right. */
export const PAIRING_TRIES_MAX = 5;
/** Open at a time: more than anybody types within the minutes. */
export const PAIRING_CODES_MAX = 200;

interface OpenCode {
  hash: Uint8Array;
  expiresUtcMs: number;
  triesLeft: number;
}

/** Compared with where there is no code, so that it takes as long. */
const NO_CODE = hashOf('');

export class PairingCodes {
  readonly #nowUtcMs: () => number;
  readonly #open = new Map<string, OpenCode>();

  constructor(nowUtcMs: () => number) {
    this.#nowUtcMs = nowUtcMs;
  }

  /** A new code for the device; one that it had before is worth nothing. Null while too many are open. */
  open(deviceId: string): { code: string; expiresUtcMs: number } | null {
    const nowUtcMs = this.#nowUtcMs();
    for (const [id, { expiresUtcMs }] of this.#open) if (expiresUtcMs <= nowUtcMs) this.#open.delete(id);
    this.#open.delete(deviceId);
    if (this.#open.size >= PAIRING_CODES_MAX) return null;
    const code = Array.from({ length: PAIRING_CODE_CHARACTERS }, () => CHARACTERS[randomInt(CHARACTERS.length)]).join(
      '',
    );
    const expiresUtcMs = Math.round(nowUtcMs + PAIRING_MS_MAX);
    this.#open.set(deviceId, { hash: hashOf(code), expiresUtcMs, triesLeft: PAIRING_TRIES_MAX });
    return { code, expiresUtcMs };
  }

  /** Whether this is the code of this device. It is used up by that, and by too many that are not. */
  redeem(deviceId: string, typed: string): boolean {
    const found = this.#open.get(deviceId);
    const same = timingSafeEqual(hashOf(typed.replaceAll(/[\s-]/g, '').toUpperCase()), found?.hash ?? NO_CODE);
    if (!found) return false;
    const isGood = same && found.expiresUtcMs > this.#nowUtcMs();
    found.triesLeft -= 1;
    if (isGood || found.triesLeft <= 0) this.#open.delete(deviceId);
    return isGood;
  }
}

function hashOf(code: string): Uint8Array {
  return createHash('sha256').update(code).digest();
}
