/** The trials of one athlete whose numbers on screen are provisional: the running one and those being re-analysed. */
import type { LiveMessage, Place, Stance, Task } from '@ambipede/shared';
import { stancesOfTask, type Span } from '../asymmetry/stances-of-task.ts';
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

/** What the comparison needs to know of the pipeline that makes the stances. */
export interface LiveBasis {
  /** Second 0 of the stances, ms UTC. */
  baseUtcMs: number;
  /** Standard uncertainty of the frontal zero by the mounting known so far; null where unknown. */
  frontalUncertaintyDeg: Record<Place, number | null>;
}

export class LiveTrials {
  readonly #publish: (message: LiveMessage) => void;
  readonly #basis: () => LiveBasis;
  #trials: LiveTrial[] = [];

  constructor(publish: (message: LiveMessage) => void, basis: () => LiveBasis) {
    this.#publish = publish;
    this.#basis = basis;
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

  takeStance(stance: Stance, withdrawn: boolean): void {
    const contactUtcMs = this.#basis().baseUtcMs + stance.initialContact * 1000;
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
        trial.changed ||= trial.stances.size > 0;
      } else {
        trial.changed = false;
      }
      trial.stances.clear();
    }
  }

  /** The sensors sit otherwise than was known: the running trial's differences are weighed anew. */
  mountingChanged(): void {
    const { running } = this;
    if (running && running.stances.size > 0) running.changed = true;
  }

  publishAsymmetry(): void {
    for (const trial of this.#trials) {
      if (!trial.changed) continue;
      trial.changed = false;
      this.#publish(asymmetryMessage(trial, this.#basis()));
    }
  }

  /** The newest trial's stances and numbers so far. */
  snapshot(): LiveMessage[] {
    const trial = this.#trials[this.#trials.length - 1];
    if (!trial || trial.stances.size === 0) return [];
    return [
      ...[...trial.stances.values()].map((stance) => stanceMessage(trial, stance, false)),
      asymmetryMessage(trial, this.#basis()),
    ];
  }
}

function isWithin(trial: LiveTrial, utcMs: number): boolean {
  return utcMs >= trial.startedUtcMs && (trial.endedUtcMs === null || utcMs < trial.endedUtcMs);
}

function stanceMessage(trial: LiveTrial, stance: Stance, withdrawn: boolean): LiveMessage {
  return { type: 'stance', trialId: trial.id, stance, provisional: true, withdrawn };
}

function asymmetryMessage(trial: LiveTrial, { baseUtcMs, frontalUncertaintyDeg }: LiveBasis): LiveMessage {
  const inOrder = [...trial.stances.values()].sort((a, b) => a.initialContact - b.initialContact || a.id - b.id);
  const span: Span = {
    startS: (trial.startedUtcMs - baseUtcMs) / 1000,
    endS: ((trial.endedUtcMs ?? Infinity) - baseUtcMs) / 1000,
  };
  return {
    type: 'asymmetry',
    trialId: trial.id,
    provisional: true,
    metrics: summariseAsymmetry(stancesOfTask(trial.task, inOrder, [span]), frontalUncertaintyDeg),
  };
}
