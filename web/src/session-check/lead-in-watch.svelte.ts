/**
 * The lead-in as this page sees it: which step is under way, since when, and whether what the server says of the sensors'
 * seat was said after the step or before it. A report from before a step must not pass for the verdict on it.
 */
import { PLACES, type LeadInStep, type MountingReport, type Place } from '@ambipede/shared';
import type { LiveState } from '../live/live-state.svelte.ts';
import type { SessionControl } from '../live/session-control.svelte.ts';
import { seatVerdict, type SeatVerdict } from './seat-check.ts';

/** The server waits up to 3 s for late samples; after this long no verdict is to come. */
export const VERDICT_WAIT_MS = 6000;

/**
 * `waiting`: the server has not said. `no verdict`: both steps are there, and it made nothing of them. `kept`: it could
 * not use a repeat, and its earlier report holds.
 */
export type StepOutcome = SeatVerdict | 'steps missing' | 'waiting' | 'no verdict' | 'kept';

export interface OutcomeInput {
  stepsDone: Record<LeadInStep, number>;
  /** Null until a step has ended on this page. */
  endedAgoMs: number | null;
  /** Whether the report is another one than at the start of that step. */
  isNew: boolean;
  report: MountingReport | undefined;
}

export function outcomeOf({ stepsDone, endedAgoMs, isNew, report }: OutcomeInput): StepOutcome {
  if (stepsDone.reference_stand === 0 || stepsDone.forward_bow === 0) {
    return stepsDone.reference_stand + stepsDone.forward_bow === 0 ? seatVerdict(report) : 'steps missing';
  }
  const fromLeadIn = report?.source === 'lead-in';
  if (endedAgoMs === null || isNew) return fromLeadIn ? seatVerdict(report) : 'no verdict';
  if (endedAgoMs < VERDICT_WAIT_MS) return 'waiting';
  return fromLeadIn ? 'kept' : 'no verdict';
}

export function asksRepeat(outcome: StepOutcome): boolean {
  return outcome === 'repeat' || outcome === 'no verdict' || outcome === 'kept';
}

type Reports = Partial<Record<Place, string>>;

export class LeadInWatch {
  #live: LiveState;
  #control: SessionControl;
  #seenStep: LeadInStep | null = null;
  #seenAtMs = 0;
  #before = $state.raw<Reports>({});
  #endedAtMs = $state<number | null>(null);
  #nowMs = $state(performance.now());

  constructor(live: LiveState, control: SessionControl) {
    this.#live = live;
    this.#control = control;
  }

  get step(): LeadInStep | null {
    return this.#live.session?.leadInStep ?? null;
  }

  /** Call it whenever the step may have changed. */
  follow(step: LeadInStep | null): void {
    if (step === this.#seenStep) return;
    if (step !== null) {
      this.#seenAtMs = performance.now();
      this.#before = this.#reports();
      this.#endedAtMs = null;
    } else {
      this.#endedAtMs = performance.now();
    }
    this.#seenStep = step;
    this.tick();
  }

  tick(): void {
    this.#nowMs = performance.now();
  }

  /** Seconds that the step has been under way, by the server's start where it is known; null while the feed is lost. */
  get elapsedS(): number | null {
    if (this.#live.stale || this.step === null) return null;
    const sinceSeenS = (this.#nowMs - this.#seenAtMs) / 1000;
    const open = this.#control.view?.leadIn.find((each) => each.endUtcMs === null && each.step === this.step);
    const sinceStartS = open === undefined ? sinceSeenS : (this.#live.clock.serverNowMs() - open.startUtcMs) / 1000;
    return Math.max(0, Math.floor(sinceStartS));
  }

  outcome(place: Place): StepOutcome {
    const report = this.#live.mounting[place];
    return outcomeOf({
      stepsDone: {
        reference_stand: this.#control.stepCount('reference_stand'),
        forward_bow: this.#control.stepCount('forward_bow'),
      },
      endedAgoMs: this.#endedAtMs === null ? null : this.#nowMs - this.#endedAtMs,
      isNew: textOf(report) !== this.#before[place],
      report,
    });
  }

  /** Of the places that have a sensor. */
  get outcomes(): { place: Place; outcome: StepOutcome }[] {
    return PLACES.filter((place) => this.#live.sensorAt(place) !== null).map((place) => ({
      place,
      outcome: this.outcome(place),
    }));
  }

  #reports(): Reports {
    const { mounting } = this.#live;
    return Object.fromEntries(PLACES.map((place) => [place, textOf(mounting[place])]));
  }
}

/** Every message brings all reports anew, so sameness is that of what they say. */
function textOf(report: MountingReport | undefined): string | undefined {
  return report === undefined ? undefined : JSON.stringify(report);
}
