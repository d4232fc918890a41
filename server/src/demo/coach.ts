/** The demo's coach: taps what a coach taps, through the real API, at the moments that the movement gives. */
import { LEAD_IN_STEPS, PLACES, TASKS } from '@ambipede/shared';
import type {
  AthleteSummary,
  LeadInStep,
  NewAthlete,
  Place,
  SensorEnrolment,
  SensorPlacement,
  SessionView,
  Task,
  TrialSummary,
} from '@ambipede/shared';
import type { Part } from './movement.ts';
import { DEVICES, OTHERS, WEARER } from './people.ts';

/** A trial is started a moment before the movement and stopped a moment after it. */
const TRIAL_MARGIN_MS = 400;

export class DemoCoach {
  readonly #address: string;
  readonly #timers = new Set<NodeJS.Timeout>();
  readonly #onProblem: (text: string) => void;
  #sessionId = '';

  constructor(address: string, onProblem: (text: string) => void) {
    this.#address = address;
    this.#onProblem = onProblem;
  }

  /** Fills the roster, enrols and places the sensors, begins a session. */
  async prepare(): Promise<{ wearerId: string; tokens: Record<Place, string> }> {
    const roster = await this.#call<AthleteSummary[]>('GET', '/api/athletes');
    for (const name of [WEARER, ...OTHERS]) {
      if (!roster.some((athlete) => athlete.name === name)) {
        roster.push(await this.#call<AthleteSummary>('POST', '/api/athletes', { name } satisfies NewAthlete));
      }
    }
    const wearer = roster.find((athlete) => athlete.name === WEARER)!;
    // An earlier demo may have been ended in the middle.
    if (wearer.openSessionId) await this.#call('POST', `/api/sessions/${wearer.openSessionId}/end`);
    const tokens: Record<Place, string> = { pelvis: '', sternum: '' };
    for (const place of PLACES) {
      const sensorPath = `/api/sensors/${DEVICES[place]}`;
      tokens[place] = (await this.#call<SensorEnrolment>('POST', `${sensorPath}/enrolment`)).token;
      const placement: SensorPlacement = { athleteId: wearer.id, place };
      await this.#call('PUT', sensorPath, placement);
    }
    const session = await this.#call<SessionView>('POST', '/api/sessions', { athleteId: wearer.id });
    this.#sessionId = session.id;
    return { wearerId: wearer.id, tokens };
  }

  /** Lead-in steps and trials of one part of the movement. @param originMs host time of the first part's start */
  accompany(part: Part, originMs: number): void {
    for (const { kind, startS, endS } of part.movement.marks) {
      const startMs = originMs + (part.startS + startS) * 1000;
      const endMs = originMs + (part.startS + endS) * 1000;
      if (isLeadInStep(kind)) {
        const path = `/api/sessions/${this.#sessionId}/lead-in/${kind}`;
        this.#at(startMs, () => this.#call('POST', `${path}/start`));
        this.#at(endMs, () => this.#call('POST', `${path}/stop`));
      } else if (isTask(kind)) {
        this.#accompanyTrial(kind, startMs - TRIAL_MARGIN_MS, endMs + TRIAL_MARGIN_MS);
      }
    }
  }

  stop(): void {
    for (const timer of this.#timers) clearTimeout(timer);
    this.#timers.clear();
  }

  #accompanyTrial(task: Task, startMs: number, endMs: number): void {
    let trial: Promise<TrialSummary> | null = null;
    this.#at(startMs, () => {
      trial = this.#call<TrialSummary>('POST', `/api/sessions/${this.#sessionId}/trials`, { task });
      return trial;
    });
    this.#at(endMs, async () => {
      const started = await trial;
      if (started) await this.#call('POST', `/api/trials/${started.id}/stop`);
    });
  }

  #at(hostMs: number, action: () => Promise<unknown>): void {
    const timer = setTimeout(
      () => {
        this.#timers.delete(timer);
        action().catch((error: unknown) => this.#onProblem(String(error)));
      },
      Math.max(0, hostMs - Date.now()),
    );
    this.#timers.add(timer);
  }

  async #call<T>(method: string, path: string, body?: object): Promise<T> {
    const response = await fetch(this.#address + path, {
      method,
      ...(body && { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
    });
    if (!response.ok) throw new Error(`${method} ${path} answered ${response.status}: ${await response.text()}`);
    return (await response.json()) as T;
  }
}

function isLeadInStep(kind: string): kind is LeadInStep {
  return (LEAD_IN_STEPS as readonly string[]).includes(kind);
}

function isTask(kind: string): kind is Task {
  return (TASKS as readonly string[]).includes(kind);
}
