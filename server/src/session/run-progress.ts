/** What is told of a run besides what is stored of it: how long it will take, and which trials kept what they had. */
import { RE_ANALYSIS_FAILURES_MAX } from '@ambipede/shared';
import type { ReAnalysisFailure, ReAnalysisRun } from '@ambipede/shared';
import type { StoredRun } from '../store/re-analysis-runs.ts';

export class RunProgress {
  readonly #runId: string | null;
  readonly #beganMs: number;
  readonly #nowMs: () => number;
  #dealtWith = 0;
  #failures: ReAnalysisFailure[] = [];

  /** @param nowMs of any steady clock */
  constructor(runId: string | null, nowMs: () => number = () => performance.now()) {
    this.#runId = runId;
    this.#nowMs = nowMs;
    this.#beganMs = nowMs();
  }

  dealtWith(): void {
    this.#dealtWith += 1;
  }

  failed(failure: ReAnalysisFailure): void {
    this.#failures = [failure, ...this.#failures].slice(0, RE_ANALYSIS_FAILURES_MAX);
  }

  viewOf(run: StoredRun): ReAnalysisRun {
    const { id, version, scope, state, startedUtcMs, endedUtcMs, trialsTotal, trialsDone: done, trialsFailed } = run;
    const isMine = id === this.#runId;
    const remaining = Math.max(0, trialsTotal - done - trialsFailed);
    return {
      ...{ id, version, scope, state, startedUtcMs, endedUtcMs, trialsTotal, done, failed: trialsFailed },
      remainingS: isMine && state === 'running' ? this.#remainingS(remaining) : null,
      failures: isMine ? this.#failures : [],
    };
  }

  /** At the pace so far, waits for live work included. */
  #remainingS(trials: number): number | null {
    if (this.#dealtWith === 0) return null;
    return Math.ceil((trials * (this.#nowMs() - this.#beganMs)) / this.#dealtWith / 1000);
  }
}
