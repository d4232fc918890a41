/** A value that may change on screen only so often: what comes in between is passed over, the newest is always shown in the end. */
export class Paced<T> {
  value: T;
  #latest: T;
  #periodMs: number;
  #timer: ReturnType<typeof setTimeout> | undefined;

  constructor(first: T, periodMs: number) {
    this.value = $state.raw(first);
    this.#latest = first;
    this.#periodMs = periodMs;
  }

  offer(value: T): void {
    this.#latest = value;
    if (this.#timer !== undefined) return;
    this.value = value;
    this.#timer = setTimeout(() => {
      this.#timer = undefined;
      if (this.#latest !== this.value) this.offer(this.#latest);
    }, this.#periodMs);
  }

  /** Another trial or the final result: shown at once. */
  replace(value: T): void {
    this.stop();
    this.#latest = value;
    this.value = value;
  }

  stop(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
  }
}
