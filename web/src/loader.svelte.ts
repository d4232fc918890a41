/** A value that comes from the server: what is known, what went wrong, and since when it is old. */
import { NOT_ALLOWED, NOT_SIGNED_IN, PASSWORD_IS_FIRST, SECOND_FACTOR_IS_DUE } from '@ambipede/shared';
import { ApiFailure } from './api.ts';

/** `not-found`: erased, or somebody who may not even know of it any longer. */
const NOT_TO_BE_SEEN: ReadonlySet<string> = new Set([NOT_ALLOWED, 'not-found']);
/** Asking again gives the same answer: somebody has to do something first. */
const FINAL: ReadonlySet<string> = new Set([
  ...NOT_TO_BE_SEEN,
  ...[NOT_SIGNED_IN, PASSWORD_IS_FIRST, SECOND_FACTOR_IS_DUE, 'invalid-request'],
]);

export class Loader<T> {
  value = $state.raw<T | null>(null);
  failure = $state.raw<ApiFailure | null>(null);
  /** Whole seconds since the value last came in, while the latest attempt has failed; else null. */
  oldS = $state<number | null>(null);

  #fetchValue: () => Promise<T>;
  #loadedAtMs = 0;
  #attempt = 0;

  constructor(fetchValue: () => Promise<T>) {
    this.#fetchValue = fetchValue;
  }

  /** Loads once. An answer that was overtaken by a later attempt is dropped. */
  async load(): Promise<void> {
    const attempt = ++this.#attempt;
    try {
      const value = await this.#fetchValue();
      if (attempt !== this.#attempt) return;
      this.value = value;
      this.failure = null;
      this.oldS = null;
      this.#loadedAtMs = Date.now();
    } catch (cause) {
      if (attempt !== this.#attempt) return;
      this.failure = cause instanceof ApiFailure ? cause : new ApiFailure('page', String(cause), false);
      // What may no longer be seen does not stay on screen.
      if (NOT_TO_BE_SEEN.has(this.failure.code)) this.value = null;
      this.oldS = this.value === null ? null : Math.round((Date.now() - this.#loadedAtMs) / 1000);
    }
  }

  /**
   * Loads now and then again every `periodMs` after each answer, as long as `goOn` says so; a failed attempt is always
   * repeated, unless the answer would stay the same. Returns the function that stops it.
   */
  poll(periodMs: number, goOn: (value: T | null) => boolean = () => true): () => void {
    let timer: ReturnType<typeof setTimeout> | undefined;
    let stopped = false;
    const round = async () => {
      await this.load();
      const again = this.failure === null ? goOn(this.value) : !FINAL.has(this.failure.code);
      if (!stopped && again) timer = setTimeout(() => void round(), periodMs);
    };
    void round();
    return () => {
      stopped = true;
      clearTimeout(timer);
    };
  }
}
