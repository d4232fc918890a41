/** Hands things on later, in the order in which they came. */
import { hostNowMs } from './clock.ts';

export class DelayLine {
  readonly #waiting: { dueMs: number; bytes: number; deliver: () => void }[] = [];
  #timer: NodeJS.Timeout | null = null;
  /** Bytes that are on their way. */
  waitingBytes = 0;

  /** Delivers at once when nothing is ahead and `dueMs` (host time) has come. */
  push(dueMs: number, bytes: number, deliver: () => void): void {
    if (this.#waiting.length === 0 && dueMs <= hostNowMs()) return deliver();
    this.#waiting.push({ dueMs, bytes, deliver });
    this.waitingBytes += bytes;
    this.#arm();
  }

  clear(): void {
    if (this.#timer) clearTimeout(this.#timer);
    this.#timer = null;
    this.#waiting.length = 0;
    this.waitingBytes = 0;
  }

  #arm(): void {
    const head = this.#waiting[0];
    if (this.#timer || !head) return;
    this.#timer = setTimeout(
      () => {
        this.#timer = null;
        this.#deliverDue();
        this.#arm();
      },
      Math.max(1, head.dueMs - hostNowMs()),
    );
  }

  #deliverDue(): void {
    const nowMs = hostNowMs();
    for (let head = this.#waiting[0]; head && head.dueMs <= nowMs; head = this.#waiting[0]) {
      this.#waiting.shift();
      this.waitingBytes -= head.bytes;
      head.deliver();
    }
  }
}
