/** Who is signed in on this device. Everything on screen hangs on it: when it changes, nothing of before stays. */
import { NOT_SIGNED_IN, PASSWORD_IS_FIRST, SECOND_FACTOR_IS_DUE, SIGN_IN_IDLE_MS, type Me } from '@ambipede/shared';
import { tick } from 'svelte';
import { ApiFailure, lastAskedUtcMs, onRefusal, request } from '../api.ts';
import { choice } from '../choice.svelte.ts';

const RETRY_MS = 2000;
/** How often it is looked whether the page has been left alone for too long. */
const LOOK_EVERY_MS = 15_000;
/** What the pages keep in the browser: drafts, and which cautions have been read. */
const KEPT_PREFIX = 'ambipede.';

class Who {
  /** Undefined until the server has said; null: nobody. */
  me = $state.raw<Me | null | undefined>(undefined);
  /** Why the server has not said. */
  failure = $state.raw<ApiFailure | null>(null);
  /** Somebody was signed in here, and not by their own wish no longer is. */
  ended = $state(false);

  /** An answer to what was asked before this says nothing about who is signed in now. */
  #sinceMs = 0;
  #retry: ReturnType<typeof setTimeout> | undefined;

  constructor() {
    onRefusal((code, askedMs) => {
      if (askedMs < this.#sinceMs) return;
      if (code === NOT_SIGNED_IN) this.leave(this.me != null);
      if (code === PASSWORD_IS_FIRST && this.me) this.me = { ...this.me, passwordIsFirst: true };
      if (code === SECOND_FACTOR_IS_DUE && this.me) this.me = { ...this.me, secondFactor: 'due' };
    });
    // In another tab somebody else may have signed in by now, and the cookie is theirs.
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState !== 'visible') return;
      this.#leaveWhenIdle();
      void this.ask();
    });
    setInterval(() => this.#leaveWhenIdle(), LOOK_EVERY_MS);
  }

  /** Repeats itself while the server is out of reach. */
  async ask(): Promise<void> {
    clearTimeout(this.#retry);
    const askedMs = performance.now();
    try {
      const me = await request<Me>('GET', '/api/me');
      // Somebody has signed in or out meanwhile.
      if (askedMs >= this.#sinceMs) this.is(me);
    } catch (cause) {
      this.failure = cause instanceof ApiFailure ? cause : new ApiFailure('page', String(cause), false);
      if (this.failure.offline) this.#retry = setTimeout(() => void this.ask(), RETRY_MS);
    }
  }

  is(me: Me): void {
    if (this.me && this.me.accountId !== me.accountId) forget();
    this.#sinceMs = performance.now();
    this.failure = null;
    this.ended = false;
    this.me = me;
  }

  leave(ended: boolean): void {
    this.#sinceMs = performance.now();
    this.failure = null;
    this.ended ||= ended;
    this.me = null;
    forget();
    // A page that is taken down may still write down a draft.
    void tick().then(forget);
  }

  /** The sign-in has run out, and asking whether it has would make it last. */
  #leaveWhenIdle(): void {
    if (this.hasAccounts && Date.now() - lastAskedUtcMs() >= SIGN_IN_IDLE_MS) this.leave(true);
  }

  get hasAccounts(): boolean {
    return this.me?.access === 'accounts';
  }

  get isDemo(): boolean {
    return this.me?.access === 'open';
  }

  isAthlete(athleteId: string): boolean {
    return this.me?.athleteId === athleteId;
  }

  get keeps(): boolean {
    return this.#has('keeper');
  }

  /** Starts and stops sessions and trials, with the athlete's consent. */
  get measures(): boolean {
    return this.#has('coach') || this.#has('physio');
  }

  get treats(): boolean {
    return this.#has('physio');
  }

  /** Has athletes whose measurements may be seen, or is one. */
  get sees(): boolean {
    return this.measures || this.#has('athlete');
  }

  #has(role: Me['roles'][number]): boolean {
    return this.me?.roles.includes(role) ?? false;
  }
}

/** The pages themselves are taken down by Gate.svelte; this is what outlives them. */
function forget(): void {
  choice.reset();
  for (const key of Object.keys(localStorage)) if (key.startsWith(KEPT_PREFIX)) localStorage.removeItem(key);
}

export const who = new Who();
