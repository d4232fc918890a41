/** Which devices are enrolled, in memory: a hello must not wait for the database. The store has the same hashes. */
import { createHash, timingSafeEqual } from 'node:crypto';
import type { RefusedSensors } from './refused-sensors.ts';

const HASH_BYTES = 32;
/** Compared with for a device that has no hash, so that an unknown id takes as long as a wrong token. */
const NO_HASH = new Uint8Array(HASH_BYTES);

/** SHA-256 of a token's bytes. A token is random, so neither salt nor a slow hash would add anything. */
export function hashOfToken(token: Uint8Array | string): Uint8Array {
  return createHash('sha256').update(token).digest();
}

export class Enrolments {
  readonly #hashes: Map<string, Uint8Array>;
  readonly #refused: RefusedSensors;

  constructor(hashes: Iterable<readonly [deviceId: string, tokenHash: Uint8Array]>, refused: RefusedSensors) {
    this.#hashes = new Map(hashes);
    this.#refused = refused;
  }

  get count(): number {
    return this.#hashes.size;
  }

  has(deviceId: string): boolean {
    return this.#hashes.has(deviceId);
  }

  /** Whether this is the token of this device, in constant time. Notes those that it turns away. */
  admits(deviceId: string, token: Uint8Array): boolean {
    const known = this.#hashes.get(deviceId);
    const same = timingSafeEqual(hashOfToken(token), known ?? NO_HASH);
    if (known && same) {
      this.#refused.forget(deviceId);
      return true;
    }
    this.#refused.note(deviceId, known ? (token.length === 0 ? 'no-token' : 'wrong-token') : 'not-enrolled');
    return false;
  }

  set(deviceId: string, tokenHash: Uint8Array): void {
    this.#hashes.set(deviceId, tokenHash);
    this.#refused.forget(deviceId);
  }

  delete(deviceId: string): void {
    this.#hashes.delete(deviceId);
  }
}
