/** How old is what is on screen? Judged by heartbeats alone, whatever else arrives. */
import { STALE_AFTER_MS } from '@ambipede/shared';

const TICK_MS = 200;

export class FeedClock {
  /** `waiting` until the first heartbeat; then `alive` or `lost`. */
  state = $state<'waiting' | 'alive' | 'lost'>('waiting');
  /** Whole seconds since the last heartbeat (since the page opened, before the first). */
  silentS = $state(0);

  #heardAt = stamp();
  #heard = false;
  #serverAheadMs = 0;
  #timer: ReturnType<typeof setInterval>;

  /** `onTick` is called a few times a second, after the state has been judged. */
  constructor(onTick: () => void) {
    this.#timer = setInterval(() => {
      this.#judge();
      onTick();
    }, TICK_MS);
  }

  heartbeat(serverUtcMs: number): void {
    this.#heardAt = stamp();
    this.#heard = true;
    this.#serverAheadMs = serverUtcMs - this.#heardAt.steadyMs;
    this.#judge();
  }

  /** The server's UTC as far as this page can tell; before the first heartbeat its own. */
  serverNowMs(): number {
    return this.#heard ? performance.now() + this.#serverAheadMs : Date.now();
  }

  stop(): void {
    clearInterval(this.#timer);
  }

  #judge(): void {
    const now = stamp();
    // The steady clock may stand still while the device sleeps and the wall clock may be set: the larger one counts.
    const ageMs = Math.max(now.steadyMs - this.#heardAt.steadyMs, now.wallMs - this.#heardAt.wallMs);
    this.silentS = Math.floor(ageMs / 1000);
    if (ageMs > STALE_AFTER_MS) this.state = 'lost';
    else this.state = this.#heard ? 'alive' : 'waiting';
  }
}

function stamp() {
  return { steadyMs: performance.now(), wallMs: Date.now() };
}
