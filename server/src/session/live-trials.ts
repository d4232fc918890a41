/** The trials of one athlete whose numbers on screen are provisional: the running one and those being re-analysed. */
import type { LiveMessage, LiveWaveforms, MountingReport, Place, Stance, Task } from '@ambipede/shared';
import { stancesOfTask, type Span } from '../asymmetry/stances-of-task.ts';
import { summariseAsymmetry } from '../asymmetry/summary.ts';
import { withForces } from '../stance/sine-wave.ts';
import type { StanceFrames } from '../stance/stance-frames.ts';
import type { SidedContact } from '../stance/types.ts';
import { LiveCurves } from './live-curves.ts';
import { TaskWatch } from './task-watch.ts';

/** Stances that may belong to a trial that was started when they happened, and is known only now. */
const RECENT_STANCES_MAX = 16;

export interface NewLiveTrial {
  id: string;
  task: Task;
  startedUtcMs: number;
  /** For forces only. */
  bodyMassKg: number | null;
}

export interface LiveTrial extends NewLiveTrial {
  /** Null while it runs. Kept until the final result is there: late samples still make stances. */
  endedUtcMs: number | null;
  stances: Map<number, Stance>;
  changed: boolean;
  curves: LiveCurves;
  /** Null when its task is told by its stances alone, and when it has ended. */
  watch: TaskWatch | null;
}

/** What the comparison needs to know of the pipeline that makes the stances. */
export interface LiveBasis {
  /** Second 0 of the stances, ms UTC. */
  baseUtcMs: number;
  /** As known so far. */
  mounting: Partial<Record<Place, MountingReport>>;
  /** The last seconds, at least from the newest stances on. */
  frames: StanceFrames;
}

export class LiveTrials {
  readonly #publish: (message: LiveMessage) => void;
  readonly #basis: () => LiveBasis;
  #trials: LiveTrial[] = [];
  /** Newest last. */
  #recent: Stance[] = [];

  constructor(publish: (message: LiveMessage) => void, basis: () => LiveBasis) {
    this.#publish = publish;
    this.#basis = basis;
  }

  get running(): LiveTrial | null {
    return this.#trials.find((trial) => trial.endedUtcMs === null) ?? null;
  }

  start(trial: NewLiveTrial): void {
    this.#trials.push({
      ...trial,
      endedUtcMs: null,
      stances: new Map(),
      changed: false,
      curves: new LiveCurves(),
      watch: TaskWatch.isFor(trial.task) ? new TaskWatch(trial) : null,
    });
  }

  /** Once the dashboards know of a trial: what happened between the tap that started it and now. */
  tellSinceStart(id: string): void {
    const trial = this.#trials.find((each) => each.id === id);
    if (trial) for (const stance of this.#recent) this.#offer(trial, stance, false);
  }

  end(id: string, endedUtcMs: number): void {
    const trial = this.#trials.find((each) => each.id === id);
    if (!trial || trial.endedUtcMs !== null) return;
    this.publishTask();
    trial.endedUtcMs = endedUtcMs;
    trial.watch = null;
    // What came between the tap and now is not of the trial.
    for (const stance of [...trial.stances.values()]) {
      if (!this.#isWithin(trial, stance)) this.#offer(trial, stance, true);
    }
  }

  /** The final result is stored, or there is none. */
  forget(id: string): void {
    this.#trials = this.#trials.filter((trial) => trial.id !== id);
  }

  /** After each packet: the pipeline forgets its frames. */
  takeFrames(): void {
    const { baseUtcMs, frames } = this.#basis();
    this.running?.watch?.takeFrames(frames, baseUtcMs);
  }

  takeContact(contact: SidedContact): void {
    this.running?.watch?.takeContact(contact);
  }

  takeStance(measured: Stance, withdrawn: boolean): void {
    this.#recent = this.#recent.filter(({ id }) => id !== measured.id).slice(-RECENT_STANCES_MAX + 1);
    if (!withdrawn) this.#recent.push(measured);
    for (const trial of this.#trials) this.#offer(trial, measured, withdrawn);
  }

  /** A correction can move a stance across a trial's edge, so each trial decides anew whether it is its own. */
  #offer(trial: LiveTrial, measured: Stance, withdrawn: boolean): void {
    const stance = withForces(measured, trial.bodyMassKg);
    const gone = withdrawn || !this.#isWithin(trial, stance);
    if (gone && !trial.stances.delete(stance.id)) return;
    if (!gone) trial.stances.set(stance.id, stance);
    if (gone) trial.curves.withdraw(stance.id);
    else trial.curves.take(stance, this.#basis().frames);
    trial.changed = true;
    this.#publish(stanceMessage(trial, stance, gone));
  }

  #isWithin(trial: LiveTrial, stance: Stance): boolean {
    const utcMs = this.#basis().baseUtcMs + stance.initialContact * 1000;
    return utcMs >= trial.startedUtcMs && (trial.endedUtcMs === null || utcMs < trial.endedUtcMs);
  }

  /** A new pipeline counts its stances from the beginning: those of the old one must not mix with them. */
  withdrawAll(): void {
    this.#recent = [];
    for (const trial of this.#trials) {
      // A trial that has ended keeps its provisional numbers on screen until the final ones replace them.
      if (trial.endedUtcMs === null) {
        for (const stance of trial.stances.values()) this.#publish(stanceMessage(trial, stance, true));
        trial.changed ||= trial.stances.size > 0;
        trial.curves.clear();
        if (trial.watch) trial.watch = new TaskWatch(trial);
      } else {
        trial.changed = false;
        trial.curves.standAsTold();
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

  publishWaveforms(): void {
    for (const trial of this.#trials) {
      const waveforms = trial.curves.news(comparedOf(trial, this.#basis()));
      if (waveforms) this.#publish(waveformsMessage(trial, waveforms));
    }
  }

  publishTask(): void {
    const { running } = this;
    const { mounting, baseUtcMs } = this.#basis();
    const task = running?.watch?.message(inOrderOf(running), mounting, baseUtcMs);
    if (task) this.#publish({ type: 'task', ...task });
  }

  /** The newest trial's stances and numbers so far; its task is told again within half a second. */
  snapshot(): LiveMessage[] {
    const trial = this.#trials[this.#trials.length - 1];
    if (!trial || trial.stances.size === 0) return [];
    return [
      ...[...trial.stances.values()].map((stance) => stanceMessage(trial, stance, false)),
      asymmetryMessage(trial, this.#basis()),
      waveformsMessage(trial, trial.curves.summary(comparedOf(trial, this.#basis()))),
    ];
  }
}

function inOrderOf(trial: LiveTrial): Stance[] {
  return [...trial.stances.values()].sort((a, b) => a.initialContact - b.initialContact || a.id - b.id);
}

function stanceMessage(trial: LiveTrial, stance: Stance, withdrawn: boolean): LiveMessage {
  return { type: 'stance', trialId: trial.id, stance, provisional: true, withdrawn };
}

/** Those that are compared, as in the final result. */
function comparedOf(trial: LiveTrial, { baseUtcMs }: LiveBasis): Stance[] {
  const span: Span = {
    startS: (trial.startedUtcMs - baseUtcMs) / 1000,
    endS: ((trial.endedUtcMs ?? Infinity) - baseUtcMs) / 1000,
  };
  return stancesOfTask(trial.task, inOrderOf(trial), [span]);
}

function asymmetryMessage(trial: LiveTrial, basis: LiveBasis): LiveMessage {
  const { pelvis, sternum } = basis.mounting;
  return {
    type: 'asymmetry',
    trialId: trial.id,
    provisional: true,
    metrics: summariseAsymmetry(comparedOf(trial, basis), {
      pelvis: pelvis?.frontalUncertaintyDeg ?? null,
      sternum: sternum?.frontalUncertaintyDeg ?? null,
    }),
  };
}

function waveformsMessage(trial: LiveTrial, waveforms: LiveWaveforms): LiveMessage {
  return { type: 'waveforms', trialId: trial.id, provisional: true, waveforms };
}
