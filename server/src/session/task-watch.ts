/** The frames of a running trial whose task is told while it runs; of its last minute, so that memory and work stay bounded. */
import { TASK_INFO, type LiveTask, type MountingReport, type Place, type Stance, type Task } from '@ambipede/shared';
import { contactOf } from '../result.ts';
import { followStanceFrames, startStanceFrames, trimStanceFrames, type StanceFrames } from '../stance/stance-frames.ts';
import type { SidedContact } from '../stance/types.ts';
import { taskSoFar } from '../tasks/so-far.ts';

/** What is older is left out of the live numbers, s; the final result is about the whole trial. */
export const LIVE_TASK_S_MAX = 60;

export interface WatchedTrial {
  id: string;
  task: Task;
  startedUtcMs: number;
}

export class TaskWatch {
  readonly #trial: WatchedTrial;
  #frames: StanceFrames = startStanceFrames();
  #contacts = new Map<number, SidedContact>();
  #toldUntilS = -Infinity;

  constructor(trial: WatchedTrial) {
    this.#trial = trial;
  }

  /** Whether a task says more than its stances do. */
  static isFor(task: Task): boolean {
    return !TASK_INFO[task].stanceBased || TASK_INFO[task].rung === 'run-up';
  }

  /** @param source the frames that the pipeline keeps, of more than one packet's length */
  takeFrames(source: StanceFrames, baseUtcMs: number): void {
    followStanceFrames(this.#frames, source, (this.#trial.startedUtcMs - baseUtcMs) / 1000);
    const oldestS = this.#newestS() - LIVE_TASK_S_MAX;
    trimStanceFrames(this.#frames, oldestS);
    for (const [id, contact] of this.#contacts) {
      if (contact.tS >= oldestS) break;
      this.#contacts.delete(id);
    }
  }

  takeContact(contact: SidedContact): void {
    if (contact.withdrawn) this.#contacts.delete(contact.id);
    else this.#contacts.set(contact.id, contact);
  }

  /** Null when nothing has come since it was last asked: an old value must not look like a new one. */
  message(
    stances: readonly Stance[],
    mounting: Partial<Record<Place, MountingReport>>,
    baseUtcMs: number,
  ): LiveTask | null {
    const endS = this.#newestS();
    if (!(endS > this.#toldUntilS)) return null;
    this.#toldUntilS = endS;
    const startedS = (this.#trial.startedUtcMs - baseUtcMs) / 1000;
    const startS = Math.max(this.#frames.t[0]!, endS - LIVE_TASK_S_MAX);
    const found = taskSoFar({
      task: this.#trial.task,
      span: { startS, endS },
      frames: this.#frames,
      stances,
      contacts: [...this.#contacts.values()]
        .filter((contact) => contact.tS >= startedS)
        .sort((a, b) => a.tS - b.tS)
        .map(contactOf),
      mounting: { pelvis: mounting.pelvis ?? null, sternum: mounting.sternum ?? null },
    });
    if (found === null) return null;
    return {
      trialId: this.#trial.id,
      provisional: true,
      fromUtcMs: Math.round(baseUtcMs + startS * 1000),
      utcMs: Math.round(baseUtcMs + endS * 1000),
      ...rounded(found),
    };
  }

  #newestS(): number {
    return this.#frames.t[this.#frames.t.length - 1] ?? -Infinity;
  }
}

/** Numbers to thousandths, which is finer than any screen shows. */
function rounded<T>(value: T): T {
  return JSON.parse(JSON.stringify(value), (_key, part: unknown) =>
    typeof part === 'number' ? Math.round(part * 1000) / 1000 : part,
  ) as T;
}
