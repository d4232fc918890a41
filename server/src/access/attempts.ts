/** Failed sign-ins slow down those that follow. In memory: nobody from outside can restart the server. */

/** So many may fail before anybody has to wait. */
export const FAILURES_FREE = 5;
/** The first wait; each further failure doubles it. */
export const WAIT_MS_FIRST = 30_000;
/** At most about 4 tries an hour then: ASVS 4.0.3, 2.2.1, allows 100. Short enough that nobody is shut out for a training by a prankster. */
export const WAIT_MS_MAX = 15 * 60_000;
/** After so long without a failure all is forgotten. */
export const FORGET_AFTER_MS = 24 * 3_600_000;
/** More logins than this are not followed: the one that failed longest ago is dropped. */
export const LOGINS_MAX = 10_000;

interface Failures {
  count: number;
  untilMs: number;
  lastMs: number;
}

export class Attempts {
  readonly #failures = new Map<string, Failures>();
  readonly #nowMs: () => number;

  constructor(nowMs: () => number) {
    this.#nowMs = nowMs;
  }

  /** Milliseconds to wait before this login is tried again; 0 for none. */
  waitMs(login: string): number {
    return Math.max(0, (this.#failures.get(login)?.untilMs ?? 0) - this.#nowMs());
  }

  failed(login: string): void {
    const nowMs = this.#nowMs();
    const before = this.#failures.get(login);
    const count = before && nowMs - before.lastMs < FORGET_AFTER_MS ? before.count + 1 : 1;
    const waitMs = count < FAILURES_FREE ? 0 : Math.min(WAIT_MS_MAX, WAIT_MS_FIRST * 2 ** (count - FAILURES_FREE));
    // Last in the map: the first is the one that failed longest ago.
    this.#failures.delete(login);
    this.#failures.set(login, { count, untilMs: nowMs + waitMs, lastMs: nowMs });
    const [oldest] = this.#failures.keys();
    if (this.#failures.size > LOGINS_MAX && oldest !== undefined) this.#failures.delete(oldest);
  }

  succeeded(login: string): void {
    this.#failures.delete(login);
  }
}
