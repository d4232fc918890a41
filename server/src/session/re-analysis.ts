/**
 * Analyses all stored trials again with this server's version, one at a time, and never while a trial that has just ended waits for
 * its result. Where it is stands in the database after each trial, so it goes on there after a restart.
 */
import { setTimeout as sleep } from 'node:timers/promises';
import { ALGORITHM_VERSION } from '@ambipede/shared';
import type { ReAnalysisScope, ReAnalysisView, TrialSummary } from '@ambipede/shared';
import { conflict, messageOf } from '../errors.ts';
import type { Db } from '../store/database.ts';
import {
  countOutdated,
  endRun,
  findRun,
  measuredPlaces,
  newestRun,
  nextTrial,
  passTrial,
  startRun,
} from '../store/re-analysis-runs.ts';
import type { StoredRun } from '../store/re-analysis-runs.ts';
import { saveReAnalysed } from '../store/save-re-analysed.ts';
import { findTrial } from '../store/trials.ts';
import { AnalysisFailure } from './analysis-thread.ts';
import type { Finaliser } from './finaliser.ts';
import { RunProgress } from './run-progress.ts';
import { Turns } from './turns.ts';

/** Pause before a database that went away is asked again. */
const RETRY_PAUSE_MS = 2000;
/** A trial that the store does not take, although it answers: the run goes on behind it. */
export const ATTEMPTS_MAX = 5;

export interface ReAnalysisDependencies {
  db: Db;
  finaliser: Finaliser;
  nowUtcMs: () => number;
  onProblem: (text: string) => void;
}

export class ReAnalysis {
  readonly #deps: ReAnalysisDependencies;
  /** A run begins when the trial in hand of the one before it is done. */
  readonly #runs = new Turns();
  #progress = new RunProgress(null);
  #attempts = { trialId: '', count: 0 };
  #closed = false;

  constructor(deps: ReAnalysisDependencies) {
    this.#deps = deps;
  }

  /** At the start of the server: goes on with what an earlier one left under way, if that was of this version. */
  async resume(): Promise<void> {
    const run = await newestRun(this.#deps.db);
    if (run?.state !== 'running') return;
    if (run.version === ALGORITHM_VERSION) this.#begin(run);
    else await endRun(this.#deps.db, run.id, 'superseded', this.#now());
  }

  async start(scope: ReAnalysisScope): Promise<ReAnalysisView> {
    const { db } = this.#deps;
    const run = await startRun(db, { version: ALGORITHM_VERSION, scope, startedUtcMs: this.#now() });
    if (!run)
      throw conflict('re-analysis-running', 'A re-analysis is under way. Wait until it is done, or cancel it first.');
    this.#begin(run);
    return this.view();
  }

  /** The trial in hand is still done, and counted. */
  async cancel(): Promise<ReAnalysisView> {
    const { db } = this.#deps;
    const run = await newestRun(db);
    if (run?.state !== 'running' || !(await endRun(db, run.id, 'cancelled', this.#now())))
      throw conflict('no-re-analysis', 'No re-analysis is under way: there is nothing to cancel.');
    return this.view();
  }

  async view(): Promise<ReAnalysisView> {
    const { db } = this.#deps;
    const [counts, run] = await Promise.all([countOutdated(db, ALGORITHM_VERSION), newestRun(db)]);
    return { version: ALGORITHM_VERSION, ...counts, run: run && this.#progress.viewOf(run) };
  }

  /** Waits for the trial in hand; the next start of the server goes on behind it. */
  async close(): Promise<void> {
    this.#closed = true;
    await this.#runs.idle();
  }

  #begin(run: StoredRun): void {
    void this.#runs.take(async () => {
      this.#progress = new RunProgress(run.id);
      while (!this.#closed) {
        try {
          if (!(await this.#goOn(run.id))) return;
        } catch (error) {
          // The store throws here, and whoever closes the server waits: it is asked again until it answers.
          this.#deps.onProblem(`Re-analysis waits for the store: ${messageOf(error)}`);
          await sleep(RETRY_PAUSE_MS);
        }
      }
    });
  }

  /** One trial; false when there is nothing more to do. */
  async #goOn(runId: string): Promise<boolean> {
    const { db, finaliser } = this.#deps;
    await finaliser.idle();
    if (this.#closed) return false;
    const run = await findRun(db, runId);
    if (run?.state !== 'running') return false;
    const next = await nextTrial(db, run);
    if (!next) {
      await endRun(db, runId, 'done', this.#now());
      return false;
    }
    const trial = await findTrial(db, next.id);
    const measured = await measuredPlaces(db, next.id);
    // One that ended meanwhile comes first.
    if (finaliser.isBusy) return true;
    if (trial?.state === 'final' || trial?.state === 'failed') await this.#again(run, trial, measured);
    else await passTrial(db, runId, next, 'trialsDone');
    this.#progress.dealtWith();
    return true;
  }

  async #again(run: StoredRun, trial: TrialSummary, measured: Awaited<ReturnType<typeof measuredPlaces>>) {
    const { db, finaliser, onProblem } = this.#deps;
    const { trialId, count } = this.#attempts;
    this.#attempts = { trialId: trial.id, count: trialId === trial.id ? count + 1 : 1 };
    try {
      if (this.#attempts.count > ATTEMPTS_MAX)
        throw new AnalysisFailure(`The store did not take the new result in ${ATTEMPTS_MAX} attempts: see the log.`);
      await finaliser.analyseAgain(trial, measured, async (result, problem) => {
        await saveReAnalysed(db, run.id, trial, result, problem);
      });
    } catch (error) {
      if (!(error instanceof AnalysisFailure)) throw error;
      await passTrial(db, run.id, trial, 'trialsFailed');
      this.#progress.failed({ trialId: trial.id, reason: error.message });
      onProblem(`A trial keeps the result that it had: ${trial.id}: ${error.message}`);
    }
  }

  #now(): number {
    return Math.round(this.#deps.nowUtcMs());
  }
}
