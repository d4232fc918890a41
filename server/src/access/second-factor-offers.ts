/** Keys that were shown and have not come back as a code yet. In memory: after a restart one starts anew. */
import { randomBytes } from 'node:crypto';
import { KEY_BYTES } from './one-time-code.ts';

export const OFFER_MS = 10 * 60_000;

interface Offer {
  key: Uint8Array;
  expiresUtcMs: number;
}

export class SecondFactorOffers {
  readonly #nowUtcMs: () => number;
  readonly #offers = new Map<string, Offer>();

  constructor(nowUtcMs: () => number) {
    this.#nowUtcMs = nowUtcMs;
  }

  /** In the place of one that was made before. */
  make(accountId: string): Offer {
    for (const [id, { expiresUtcMs }] of this.#offers) if (expiresUtcMs <= this.#nowUtcMs()) this.#offers.delete(id);
    const offer = { key: new Uint8Array(randomBytes(KEY_BYTES)), expiresUtcMs: this.#nowUtcMs() + OFFER_MS };
    this.#offers.set(accountId, offer);
    return offer;
  }

  /** Null when there is none, or its time is over. */
  keyFor(accountId: string): Uint8Array | null {
    const offer = this.#offers.get(accountId);
    return offer && offer.expiresUtcMs > this.#nowUtcMs() ? offer.key : null;
  }

  drop(accountId: string): void {
    this.#offers.delete(accountId);
  }
}
