/**
 * Makes the final result of a trial from the durable raw data, after the late packets have come. What a device still
 * keeps when the waiting ends is analysed when it arrives: the trial is then done again.
 */
import { setTimeout as sleep } from 'node:timers/promises';
import type { Place, TrialSummary } from '@ambipede/shared';
import { messageOf } from '../errors.ts';
import type { DatasetNames } from '../exchange/motion-bids-writer.ts';
import type { Db } from '../store/database.ts';
import { durableUntilUtcMs } from '../store/raw-batches.ts';
import { findSession, listLeadIn, sessionDevices } from '../store/sessions.ts';
import { failTrial, saveResult } from '../store/save-result.ts';
import type { StoredResult } from '../store/save-result.ts';
import { findTrial, markReanalysing } from '../store/trials.ts';
import { AnalysisFailure } from './analysis-thread.ts';
import type { AnalysisThread, RecordingInputs } from './analysis-thread.ts';
import { AwaitedSamples } from './awaited-samples.ts';
import { missingAtEnd, reachOf } from './missing-end.ts';
import type { Reach } from './missing-end.ts';
import { completedSpans, loadWindows } from './raw-windows.ts';
import type { Devices } from './raw-windows.ts';
import { TRIAL_AFTER_MS, TRIAL_BEFORE_MS, windowsOf } from './recording.ts';
import { Turns } from './turns.ts';

/** Longest wait for samples that a connected sensor still holds, before the result is made without them. */
export const COVERAGE_WAIT_MS_MAX = 15_000;
/** The same when the sensor is not connected at all. */
export const RECONNECT_WAIT_MS_MAX = 5000;
const COVERAGE_POLL_MS = 200;
/** No device keeps samples for longer: a trial that missed some is then left as it is. */
export const LATE_DATA_MS_MAX = 48 * 3_600_000;
/** Pause before a database that went away is asked again. */
const RETRY_PAUSE_MS = 2000;

export interface FinaliserDependencies {
  db: Db;
  analysis: AnalysisThread;
  nowUtcMs: () => number;
  isConnected: (deviceId: string) => boolean;
  /** Storage rejects: what has been received waits in memory and in the devices. */
  isStorageFailing: () => boolean;
  /** The result is stored, or the trial has failed. */
  onDone: (trial: TrialSummary, result: StoredResult | null) => void;
  onProblem: (text: string) => void;
}

export class Finaliser {
  readonly #deps: FinaliserDependencies;
  readonly #running = new Map<string, Promise<void>>();
  readonly #awaited = new AwaitedSamples();
  /** Raw data of one trial at a time is in memory, however many end together. */
  readonly #turns = new Turns();
  /** Trials to which samples came since their raw data was last read. */
  readonly #outdated = new Set<string>();
  #closed = false;

  constructor(deps: FinaliserDependencies) {
    this.#deps = deps;
  }

  /** Starts the work on a trial whose span has ended; once at a time for each. */
  enqueue(trialId: string): void {
    if (this.#running.has(trialId) || this.#closed) return;
    const work = this.#untilDone(trialId).finally(() => this.#running.delete(trialId));
    this.#running.set(trialId, work);
  }

  /** Waits for the work under way; what still waits for samples is taken up at the next start. */
  async close(): Promise<void> {
    this.#closed = true;
    await Promise.all(this.#running.values());
  }

  /** At the start of the server: a final trial whose devices may still hold samples, or have sent them by now. */
  async resume(trial: TrialSummary): Promise<void> {
    const devices = await sessionDevices(this.#deps.db, trial.sessionId);
    this.#await(trial, devices);
    if ((await this.#shortDevices(trial, devices)).length === 0) this.enqueue(trial.id);
  }

  /** Samples came in: a trial that missed them is done again. */
  samplesArrived(deviceId: string, firstUtcMs: number, lastUtcMs: number): void {
    for (const trialId of this.#awaited.trialsWith(deviceId, firstUtcMs, lastUtcMs)) {
      this.#outdated.add(trialId);
      this.enqueue(trialId);
    }
  }

  /** The whole result as JSON, made anew from the stored raw data. Throws AnalysisFailure when there can be none. */
  async resultJson(trial: TrialSummary): Promise<string> {
    return this.#turns.take(async () => this.#deps.analysis.analyseToJson(await this.#load(trial)));
  }

  /** The raw samples as the pieces of a tar archive. Throws AnalysisFailure when there are none. */
  async motionBidsTar(trial: TrialSummary, names: Omit<DatasetNames, 'zeroUtcMs'>): Promise<Uint8Array[]> {
    return this.#turns.take(async () => {
      const inputs = await this.#load(trial);
      return this.#deps.analysis.exportMotionBids(inputs, { ...names, zeroUtcMs: inputs[3] });
    });
  }

  /** Trials wait for their result, or it is being made. */
  get isBusy(): boolean {
    return this.#running.size > 0;
  }

  async idle(): Promise<void> {
    while (this.isBusy) await Promise.all(this.#running.values());
  }

  /**
   * Analyses a stored trial again, in its turn, and lets `store` take what came out within the same turn: no newer samples are
   * analysed in between. Leaves the trial as it is. Throws AnalysisFailure when there can be no new result, or only one
   * without the samples of a place that was measured.
   */
  async analyseAgain(
    trial: TrialSummary,
    measured: readonly Place[],
    store: (result: StoredResult, problem: string | null) => Promise<void>,
  ): Promise<void> {
    await this.#turns.take(async () => {
      const inputs = await this.#load(trial);
      const reach = reachOf(inputs[0], inputs[2]);
      const gone = measured.filter((place) => !reach[place]?.within);
      if (gone.length > 0)
        throw new AnalysisFailure(`No samples of this trial are stored of the sensor at: ${gone.join(', ')}.`);
      const result = await this.#deps.analysis.analyse(inputs);
      await store(result, trial.importedFrom == null ? missingAtEnd(inputs[0], reach) : null);
    });
  }

  async #untilDone(trialId: string): Promise<void> {
    do {
      try {
        await this.#finalise(trialId);
      } catch (error) {
        // Only the store throws here: it is asked again until it answers.
        this.#deps.onProblem(`The result of a trial could not be stored yet: ${messageOf(error)}`);
        this.#outdated.add(trialId);
        await sleep(RETRY_PAUSE_MS);
      }
    } while (this.#outdated.has(trialId) && !this.#closed);
  }

  async #finalise(trialId: string): Promise<void> {
    const { db, onDone } = this.#deps;
    await markReanalysing(db, trialId);
    const trial = await findTrial(db, trialId);
    if (!trial) return void this.#outdated.delete(trialId);
    const devices = await sessionDevices(db, trial.sessionId);
    // Of a recording from a file, nothing is still on its way.
    const isImported = trial.importedFrom != null;
    if (!isImported) this.#await(trial, devices);
    const complete = isImported || (await this.#waitForSamples(trial, devices));
    if (this.#closed) return;
    this.#outdated.delete(trialId);
    const { problem, result } = await this.#turns.take(async () => ({
      // Of the moment at which the samples are read, which may be long after the wait for them.
      problem: isImported ? null : await this.#missingAtEnd(trial, devices),
      result: await this.#deps.analysis.analyse(await this.#load(trial)).catch(asFailure),
    }));
    if (result instanceof AnalysisFailure)
      await failTrial(db, trialId, { problem: result.message, dataComplete: complete });
    else await saveResult(db, trialId, result, { dataComplete: complete, problem });
    if (complete) this.#awaited.forget(trialId);
    const done = await findTrial(db, trialId);
    if (done) onDone(done, result instanceof AnalysisFailure ? null : result);
  }

  async #load(trial: TrialSummary): Promise<RecordingInputs> {
    const { db } = this.#deps;
    const session = await findSession(db, trial.sessionId);
    if (!session) throw new Error('The session of this trial has been deleted.');
    const { task, startedUtcMs: startUtcMs, bodyMassKg } = trial;
    const span = { task, startUtcMs, endUtcMs: endOf(trial), bodyMassKg };
    const leadIn = completedSpans(await listLeadIn(db, session.id)).filter((each) => each.endUtcMs <= span.startUtcMs);
    const raw = await loadWindows(db, await sessionDevices(db, session.id), windowsOf(leadIn, span));
    return [span, leadIn, raw, session.startedUtcMs];
  }

  #await(trial: TrialSummary, devices: Devices): void {
    const oldestUtcMs = this.#deps.nowUtcMs() - LATE_DATA_MS_MAX;
    const span = { fromUtcMs: trial.startedUtcMs - TRIAL_BEFORE_MS, untilUtcMs: endOf(trial) + TRIAL_AFTER_MS };
    this.#awaited.expect({ trialId: trial.id, ...span }, Object.values(devices), oldestUtcMs);
  }

  /** True when every device's durable samples reach past the end of the trial. */
  async #waitForSamples(trial: TrialSummary, devices: Devices): Promise<boolean> {
    const { nowUtcMs, isConnected, isStorageFailing } = this.#deps;
    const neededUtcMs = endOf(trial) + TRIAL_AFTER_MS;
    // Before that they have not been measured.
    while (nowUtcMs() < neededUtcMs && !this.#closed) await sleep(COVERAGE_POLL_MS);
    let startUtcMs = nowUtcMs();
    for (;;) {
      const short = await this.#shortDevices(trial, devices);
      if (short.length === 0) return true;
      if (isStorageFailing()) startUtcMs = nowUtcMs();
      const waitMs = short.some(isConnected) ? COVERAGE_WAIT_MS_MAX : RECONNECT_WAIT_MS_MAX;
      if (this.#closed || nowUtcMs() - startUtcMs > waitMs) return false;
      await sleep(COVERAGE_POLL_MS);
    }
  }

  async #shortDevices(trial: TrialSummary, devices: Devices): Promise<string[]> {
    const ids = Object.values(devices);
    const until = await durableUntilUtcMs(this.#deps.db, ids);
    return ids.filter((deviceId) => (until.get(deviceId) ?? 0) < endOf(trial) + TRIAL_AFTER_MS);
  }

  async #missingAtEnd(trial: TrialSummary, devices: Devices): Promise<string | null> {
    const until = await durableUntilUtcMs(this.#deps.db, Object.values(devices));
    const reach: Reach = {};
    for (const [place, deviceId] of Object.entries(devices))
      reach[place as Place] = { untilUtcMs: until.get(deviceId) ?? 0 };
    return missingAtEnd({ startUtcMs: trial.startedUtcMs, endUtcMs: endOf(trial) }, reach);
  }
}

/** What the data is to blame for is the trial's result; anything else is tried again. */
function asFailure(error: unknown): AnalysisFailure {
  if (error instanceof AnalysisFailure) return error;
  throw error;
}

function endOf(trial: TrialSummary): number {
  return trial.endedUtcMs ?? trial.startedUtcMs;
}
