/** The trials of one athlete whose numbers on screen are provisional: the running one and those being re-analysed. */
import type { LiveMessage, Stance, Task } from '@ambipede/shared';
import { summariseAsymmetry } from '../asymmetry/summary.ts';

export interface LiveTrial {
  id: string;
  task: Task;
  startedUtcMs: number;
  /** Null while it runs. Kept until the final result is there: late samples still make stances. */
  endedUtcMs: number | null;
  stances: Map<number, Stance>;
  changed: boolean;
}

export class LiveTrials {
  readonly #publish: (message: LiveMessage) => void;
  #trials: LiveTrial[] = [];

  constructor(publish: (message: LiveMessage) => void) {
    this.#publish = publish;
  }

  get running(): LiveTrial | null {
    return this.#trials.find((trial) => trial.endedUtcMs === null) ?? null;
  }

  start(id: string, task: Task, startedUtcMs: number): void {
    this.#trials.push({ id, task, startedUtcMs, endedUtcMs: null, stances: new Map(), changed: false });
  }

  end(id: string, endedUtcMs: number): void {
    const trial = this.#trials.find((each) => each.id === id);
    if (trial) trial.endedUtcMs = endedUtcMs;
  }

  /** The final result is stored, or there is none. */
  forget(id: string): void {
    this.#trials = this.#trials.filter((trial) => trial.id !== id);
  }

  /** @param contactUtcMs when the stance began */
  takeStance(stance: Stance, withdrawn: boolean, contactUtcMs: number): void {
    // A correction can move a stance across a trial's edge, so each trial decides anew whether it is its own.
    for (const trial of this.#trials) {
      const gone = withdrawn || !isWithin(trial, contactUtcMs);
      if (gone && !trial.stances.delete(stance.id)) continue;
      if (!gone) trial.stances.set(stance.id, stance);
      trial.changed = true;
      this.#publish(stanceMessage(trial, stance, gone));
    }
  }

  /** A new pipeline counts its stances from the beginning: those of the old one must not mix with them. */
  withdrawAll(): void {
    for (const trial of this.#trials) {
      // A trial that has ended keeps its provisional numbers on screen until the final ones replace them.
      if (trial.endedUtcMs === null) {
        for (const stance of trial.stances.values()) this.#publish(stanceMessage(trial, stance, true));
        trial.changed = trial.stances.size > 0;
      }
      trial.stances.clear();
    }
  }

  publishAsymmetry(): void {
    for (const trial of this.#trials) {
      if (!trial.changed) continue;
      trial.changed = false;
      this.#publish(asymmetryMessage(trial));
    }
  }

  /** The newest trial's stances and numbers so far. */
  snapshot(): LiveMessage[] {
    const trial = this.#trials[this.#trials.length - 1];
    if (!trial || trial.stances.size === 0) return [];
    return [
      ...[...trial.stances.values()].map((stance) => stanceMessage(trial, stance, false)),
      asymmetryMessage(trial),
    ];
  }
}

function isWithin(trial: LiveTrial, utcMs: number): boolean {
  return utcMs >= trial.startedUtcMs && (trial.endedUtcMs === null || utcMs < trial.endedUtcMs);
}

function stanceMessage(trial: LiveTrial, stance: Stance, withdrawn: boolean): LiveMessage {
  return { type: 'stance', trialId: trial.id, stance, provisional: true, withdrawn };
}

function asymmetryMessage(trial: LiveTrial): LiveMessage {
  const inOrder = [...trial.stances.values()].sort((a, b) => a.initialContact - b.initialContact || a.id - b.id);
  return { type: 'asymmetry', trialId: trial.id, provisional: true, metrics: summariseAsymmetry(inOrder) };
}
