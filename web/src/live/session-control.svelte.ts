/** What the person does with a session: one request at a time, and what went wrong in words. */
import type { LeadInStep, SessionView, Task } from '@ambipede/shared';
import { api } from '../api.ts';
import type { LiveState } from './live-state.svelte.ts';

/** Where this browser remembers that the cautions of an athlete's session have been read. */
const READ_KEY = 'ambipede.cautions-read.';

export class SessionControl {
  view = $state.raw<SessionView | null>(null);
  busy = $state(false);
  problem = $state<string | null>(null);
  #readSessionId = $state<string | null>(null);

  #athleteId: string;
  #live: LiveState;

  constructor(athleteId: string, live: LiveState) {
    this.#athleteId = athleteId;
    this.#live = live;
    this.#readSessionId = localStorage.getItem(READ_KEY + athleteId);
  }

  get cautionsRead(): boolean {
    return this.#readSessionId !== null && this.#readSessionId === this.#live.session?.sessionId;
  }

  readCautions(): void {
    const id = this.#live.session?.sessionId;
    if (id === undefined) return;
    localStorage.setItem(READ_KEY + this.#athleteId, id);
    this.#readSessionId = id;
  }

  /** The lead-in steps done so far are not in the feed: they are fetched whenever the feed's session changes. */
  async refresh(sessionId: string): Promise<void> {
    const view = await api.session(sessionId).catch(() => null);
    if (view !== null && view.id === this.#live.session?.sessionId) this.view = view;
  }

  stepCount(step: LeadInStep): number {
    if (this.view?.id !== this.#live.session?.sessionId) return 0;
    return this.view?.leadIn.filter((done) => done.step === step && done.endUtcMs !== null).length ?? 0;
  }

  startSession = () => this.#act(async () => (this.view = await api.startSession(this.#athleteId)));

  endSession = () => this.#inSession(async (id) => void (await api.endSession(id)));

  leadIn = (step: LeadInStep, what: 'start' | 'stop') =>
    this.#inSession(async (id) => (this.view = await api.leadIn(id, step, what)));

  startTrial = (task: Task) => this.#inSession(async (id) => this.#live.started(await api.startTrial(id, task)));

  stopTrial = (trialId: string) => this.#act(() => api.stopTrial(trialId));

  async #inSession(action: (sessionId: string) => Promise<unknown>): Promise<void> {
    const id = this.#live.session?.sessionId;
    if (id !== undefined) await this.#act(() => action(id));
  }

  async #act(action: () => Promise<unknown>): Promise<void> {
    if (this.busy) return;
    this.busy = true;
    this.problem = null;
    try {
      await action();
    } catch (cause) {
      this.problem = cause instanceof Error ? cause.message : String(cause);
    } finally {
      this.busy = false;
    }
  }
}
