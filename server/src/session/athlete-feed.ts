/**
 * One athlete as the sensors show them right now: samples through the pipeline, and what comes out to the dashboards.
 * Holds nothing that the store does not have or that cannot be made again from it.
 */
import { PLACES } from '@ambipede/shared';
import type { LeadInStep, LiveMessage, LiveSession, MountingReport, Place } from '@ambipede/shared';
import type { TimedSample } from '../ingest/raw-samples.ts';
import { startPipeline, stepPipeline } from '../pipeline.ts';
import type { PipelineInput, PipelineOutput, PipelineState } from '../pipeline.ts';
import { AngleBuffer } from './angle-buffer.ts';
import { LiveTrials } from './live-trials.ts';
import type { NewLiveTrial } from './live-trials.ts';
import { RATE_HZ_DEFAULT } from './recording.ts';
import type { LeadInSpan } from './recording.ts';

/** A lead-in step is looked at when both sensors' samples have come so far, or after this long without them. */
const LEAD_IN_WAIT_MS_MAX = 3000;

export interface FeedSession {
  id: string;
  startedUtcMs: number;
  leadInStep: LeadInStep | null;
}

export type Rates = Partial<Record<Place, number>>;

export class AthleteFeed {
  readonly athleteId: string;
  readonly #publish: (message: LiveMessage) => void;
  readonly #angles = new AngleBuffer();
  readonly #trials: LiveTrials;
  #pipeline: PipelineState;
  #rates: Rates;
  #baseUtcMs: number;
  #newestUtcMs: Partial<Record<Place, number>> = {};
  #session: FeedSession | null = null;
  #mounting: Partial<Record<Place, MountingReport>> = {};
  #mountingChanged = false;
  #leadInsWaiting: { span: LeadInSpan; sinceUtcMs: number }[] = [];

  constructor(athleteId: string, rates: Rates, nowUtcMs: number, publish: (message: LiveMessage) => void) {
    this.athleteId = athleteId;
    this.#publish = publish;
    this.#trials = new LiveTrials(publish, () => ({
      baseUtcMs: this.#baseUtcMs,
      mounting: this.#mounting,
      frames: this.#pipeline.body.stances.frames,
    }));
    this.#rates = rates;
    this.#baseUtcMs = nowUtcMs;
    this.#pipeline = startPipeline({ rateHz: rates });
  }

  get session(): FeedSession | null {
    return this.#session;
  }

  get mounting(): Partial<Record<Place, MountingReport>> {
    return this.#mounting;
  }

  /** True once after each change of the mounting within a session. */
  takeMountingChanged(): boolean {
    const changed = this.#mountingChanged && this.#session !== null;
    this.#mountingChanged = false;
    return changed;
  }

  /** Whether the pipeline was made for this rate; if not, `restart` it. */
  expectsRate(place: Place, rateHz: number): boolean {
    return this.#rates[place] === rateHz;
  }

  takeSamples(place: Place, samples: readonly TimedSample[], nowUtcMs: number): void {
    const last = samples[samples.length - 1];
    if (!last) return;
    this.#newestUtcMs[place] = last.utcMs;
    this.#step({
      kind: 'samples',
      place,
      samples: samples.map(({ utcMs, ...values }) => ({ tS: this.#secondsOf(utcMs), ...values })),
    });
    this.#trials.takeFrames();
    this.#lookAtLeadIns(nowUtcMs);
  }

  /** A new pipeline, for a new session or other sensors. `replay` refills it with samples and marks of before. */
  restart(session: FeedSession | null, rates: Rates, nowUtcMs: number, replay: readonly PipelineInput[] = []): void {
    this.#session = session;
    this.#rates = rates;
    this.#baseUtcMs = session?.startedUtcMs ?? nowUtcMs;
    this.#pipeline = startPipeline({ rateHz: rates });
    this.#mounting = {};
    this.#leadInsWaiting = [];
    this.#trials.withdrawAll();
    this.#angles.clear();
    this.#angles.breakAt(nowUtcMs);
    for (const input of replay) {
      for (const output of stepPipeline(this.#pipeline, input)) {
        if (output.kind === 'mounting') this.#mounting[output.place] = output.report;
      }
    }
    this.#publish(this.#sessionMessage());
    this.#publish({ type: 'mounting', mounting: this.#mounting });
  }

  setLeadInStep(step: LeadInStep | null): void {
    if (this.#session) this.#session.leadInStep = step;
    this.#publish(this.#sessionMessage());
  }

  endLeadIn(span: LeadInSpan, nowUtcMs: number): void {
    this.#leadInsWaiting.push({ span, sinceUtcMs: nowUtcMs });
    this.setLeadInStep(null);
    this.#lookAtLeadIns(nowUtcMs);
  }

  startTrial(trial: NewLiveTrial): void {
    this.#trials.start(trial);
    this.#publish(this.#sessionMessage());
    this.#trials.tellSinceStart(trial.id);
  }

  endTrial(id: string, endedUtcMs: number): void {
    this.#trials.end(id, endedUtcMs);
    this.#publish(this.#sessionMessage());
  }

  /** The final result is stored (or there is none): provisional numbers of this trial end here. */
  forgetTrial(id: string): void {
    this.#trials.forget(id);
  }

  /** Newest angles to the dashboards; call it about 20 times a second. */
  flushAngles(): void {
    const message = this.#angles.take();
    if (message) this.#publish(message);
  }

  /** What is made from several stances, and what waits for time to pass; call it about twice a second. */
  tick(nowUtcMs: number): void {
    this.#lookAtLeadIns(nowUtcMs);
    this.#trials.publishAsymmetry();
    this.#trials.publishWaveforms();
  }

  /** What the running task says so far, to dashboards that are there: some milliseconds of work for a long one. */
  tellTask(): void {
    this.#trials.publishTask();
  }

  /** What a dashboard needs that connects now. */
  snapshot(): LiveMessage[] {
    const angles = this.#angles.toldLately();
    return [
      this.#sessionMessage(),
      { type: 'mounting', mounting: this.#mounting },
      ...this.#trials.snapshot(),
      ...(angles ? [angles] : []),
    ];
  }

  #step(input: PipelineInput): void {
    for (const output of stepPipeline(this.#pipeline, input)) this.#handOn(output);
  }

  #handOn(output: PipelineOutput): void {
    switch (output.kind) {
      case 'angles':
        return this.#angles.push(output.frame, this.#baseUtcMs);
      case 'gap':
        // Without the pelvis there are no frames at all; a missing sternum is a null in each of them.
        if (output.place === 'pelvis') this.#angles.breakAt(this.#baseUtcMs + output.startS * 1000);
        return;
      case 'mounting':
        this.#mounting = { ...this.#mounting, [output.place]: output.report };
        this.#mountingChanged = true;
        this.#trials.mountingChanged();
        return this.#publish({ type: 'mounting', mounting: this.#mounting });
      case 'stance':
        return this.#trials.takeStance(output.stance, output.withdrawn);
      case 'contact':
        return this.#trials.takeContact(output.contact);
    }
  }

  #lookAtLeadIns(nowUtcMs: number): void {
    const places = PLACES.filter((place) => this.#newestUtcMs[place] !== undefined);
    while (this.#leadInsWaiting.length > 0) {
      const { span, sinceUtcMs } = this.#leadInsWaiting[0]!;
      const complete = places.every((place) => (this.#newestUtcMs[place] ?? 0) >= span.endUtcMs);
      if (!complete && nowUtcMs - sinceUtcMs < LEAD_IN_WAIT_MS_MAX) return;
      this.#leadInsWaiting.shift();
      this.#step(leadInInput(span, this.#baseUtcMs));
    }
  }

  #secondsOf(utcMs: number): number {
    return (utcMs - this.#baseUtcMs) / 1000;
  }

  #sessionMessage(): LiveMessage {
    return { type: 'session', session: this.#liveSession() };
  }

  #liveSession(): LiveSession | null {
    if (!this.#session) return null;
    const { id, startedUtcMs, leadInStep } = this.#session;
    const trial = this.#trials.running;
    return {
      sessionId: id,
      startedUtcMs,
      leadInStep,
      trial: trial && { trialId: trial.id, task: trial.task, startedUtcMs: trial.startedUtcMs },
    };
  }
}

export function leadInInput(span: LeadInSpan, baseUtcMs: number): PipelineInput {
  const seconds = (utcMs: number): number => (utcMs - baseUtcMs) / 1000;
  return {
    kind: 'lead-in',
    mark: { kind: span.step, startS: seconds(span.startUtcMs), endS: seconds(span.endUtcMs) },
  };
}

/** Rates for the places that have a sensor; one that has not said its rate yet is expected to run at the usual one. */
export function ratesOf(places: Iterable<Place>, known: Rates): Rates {
  return Object.fromEntries([...places].map((place) => [place, known[place] ?? RATE_HZ_DEFAULT]));
}
