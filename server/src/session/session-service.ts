/** What people do with a session: athletes, sessions, lead-in, trials; in the store and in the running state. */
import type {
  AthleteChange,
  AthleteSummary,
  LeadInStep,
  NewAthlete,
  SessionView,
  Task,
  TrialChange,
  TrialSummary,
} from '@ambipede/shared';
import { conflict, notFound } from '../errors.ts';
import { athleteExists, changeAthlete, createAthlete, findAthlete, listAthletes } from '../store/athletes.ts';
import type { Db } from '../store/database.ts';
import {
  createSession,
  dropOpenLeadIn,
  endSession,
  findOpenSession,
  findSession,
  listLeadIn,
  listMountings,
  startLeadIn,
  stopLeadIn,
} from '../store/sessions.ts';
import { findSessionNow, type SessionNow } from '../store/session-now.ts';
import type { SessionRow } from '../store/sessions.ts';
import { changeTrial, closeTrial, createTrial, findTrial, listTrialsOfSession } from '../store/trials.ts';
import type { Finaliser } from './finaliser.ts';
import type { LiveHub } from './live-hub.ts';
import type { Placements } from './placements.ts';
import type { PipelineRestarter } from './pipeline-restarter.ts';
import type { TurnsOfEach } from './turns-of-each.ts';

export interface SessionServiceDependencies {
  db: Db;
  hub: LiveHub;
  placements: Placements;
  finaliser: Finaliser;
  restarter: PipelineRestarter;
  nowUtcMs: () => number;
  /** One change at a time of each athlete, and of each session: a double tap must not start two trials, and nobody waits for another's. */
  turns: TurnsOfEach;
}

export class SessionService {
  readonly #deps: SessionServiceDependencies;
  readonly #turns: TurnsOfEach;

  constructor(deps: SessionServiceDependencies) {
    this.#deps = deps;
    this.#turns = deps.turns;
  }

  async athletes(): Promise<AthleteSummary[]> {
    const rows = await listAthletes(this.#deps.db);
    return rows.map((row) => ({ ...row, sensors: this.#deps.hub.sensors(row.id) }));
  }

  async addAthlete({ name, ...details }: NewAthlete): Promise<AthleteSummary> {
    return { ...(await createAthlete(this.#deps.db, name.trim(), this.#now(), details)), sensors: [] };
  }

  async changeAthlete(id: string, { name, ...details }: AthleteChange): Promise<AthleteSummary> {
    const { db, hub } = this.#deps;
    const change = name === undefined ? details : { ...details, name: name.trim() };
    const row = (await changeAthlete(db, id, change)) && (await findAthlete(db, id));
    if (!row) throw notFound('athlete', '/api/athletes');
    return { ...row, sensors: hub.sensors(id) };
  }

  async changeTrial(id: string, { tags, ...rest }: TrialChange): Promise<TrialSummary> {
    const change = tags === undefined ? rest : { ...rest, tags: [...new Set(tags.map((tag) => tag.trim()))] };
    if (!(await changeTrial(this.#deps.db, id, change))) throw notFound('trial', '/api/athletes/:id/trials');
    return this.#requireTrial(id);
  }

  startSession(athleteId: string): Promise<SessionView> {
    const tappedUtcMs = this.#now();
    return this.#turns.take([athleteId], async () => {
      const { db, hub, placements, restarter } = this.#deps;
      await this.#requireAthlete(athleteId);
      if (await findOpenSession(db, athleteId)) {
        throw conflict('session-open', 'This athlete already has an open session. Go on with it, or end it first.');
      }
      const devices = Object.fromEntries(placements.onAthlete(athleteId).map((each) => [each.place, each.deviceId]));
      const session = await createSession(db, athleteId, devices, tappedUtcMs);
      hub.resetCounts(athleteId);
      await restarter.restart(athleteId);
      return this.#view(session);
    });
  }

  async session(id: string): Promise<SessionView> {
    return this.#view(await this.#requireSession(id));
  }

  endSession(id: string): Promise<SessionView> {
    return this.#onSession(id, async (session, tappedUtcMs) => {
      const { db, restarter } = this.#deps;
      if (session.endedUtcMs !== null) return this.#view(session);
      if (session.openStep) await dropOpenLeadIn(db, id);
      if (session.runningTrialId !== null)
        await this.#stop(await this.#requireTrial(session.runningTrialId), tappedUtcMs);
      await endSession(db, id, tappedUtcMs);
      // Its athlete may begin another session, or move a sensor, only when this one is off the screen.
      await this.#turns.take([session.athleteId], () => restarter.restart(session.athleteId));
      return this.#view({ ...session, endedUtcMs: tappedUtcMs });
    });
  }

  startLeadIn(sessionId: string, step: LeadInStep): Promise<SessionView> {
    return this.#onSession(sessionId, async (session, tappedUtcMs) => {
      requireOpen(session);
      requireNothingUnderWay(session);
      await startLeadIn(this.#deps.db, sessionId, step, tappedUtcMs);
      this.#deps.hub.feed(session.athleteId).setLeadInStep(step);
      return this.#view(session);
    });
  }

  stopLeadIn(sessionId: string, step: LeadInStep): Promise<SessionView> {
    return this.#onSession(sessionId, async (session, endUtcMs) => {
      requireOpen(session);
      const { openStep, athleteId } = session;
      if (openStep?.step !== step) {
        throw conflict('step-not-under-way', `The step ${step} is not under way. Start it first.`);
      }
      await stopLeadIn(this.#deps.db, sessionId, endUtcMs);
      this.#deps.hub.feed(athleteId).endLeadIn({ ...openStep, endUtcMs }, this.#now());
      return this.#view(session);
    });
  }

  startTrial(sessionId: string, task: Task): Promise<TrialSummary> {
    return this.#onSession(sessionId, async (session, startedUtcMs) => {
      requireOpen(session);
      requireNothingUnderWay(session);
      const { athleteId, bodyMassKg } = session;
      if (!session.placesWorn.includes('pelvis')) {
        throw conflict(
          'no-pelvis-sensor',
          'No sensor is placed at the pelvis of this athlete. Place one, then start the trial.',
        );
      }
      const trial = await createTrial(this.#deps.db, session, task, startedUtcMs, bodyMassKg);
      this.#deps.hub.feed(athleteId).startTrial({ id: trial.id, task, startedUtcMs, bodyMassKg });
      return trial;
    });
  }

  /** Stopping a trial that has been stopped gives what there is: a second tap is no mistake. */
  async stopTrial(id: string): Promise<TrialSummary> {
    const tappedUtcMs = this.#now();
    const { sessionId } = await this.#requireTrial(id);
    return this.#turns.take([sessionId], async () => {
      const trial = await this.#requireTrial(id);
      return trial.state === 'running' ? this.#stop(trial, tappedUtcMs) : trial;
    });
  }

  /** What begins or ends does so when it was asked for, however long the store takes. */
  #onSession<T>(id: string, work: (session: SessionNow, tappedUtcMs: number) => Promise<T>): Promise<T> {
    const tappedUtcMs = this.#now();
    return this.#turns.take([id], async () => {
      const session = await findSessionNow(this.#deps.db, id);
      if (!session) throw notFound('session', '/api/athletes');
      return work(session, tappedUtcMs);
    });
  }

  async #stop(trial: TrialSummary, endedUtcMs: number): Promise<TrialSummary> {
    const { db, hub, finaliser } = this.#deps;
    await closeTrial(db, trial.id, endedUtcMs);
    hub.feed(trial.athleteId).endTrial(trial.id, endedUtcMs);
    finaliser.enqueue(trial.id);
    return { ...trial, state: 're-analysing', endedUtcMs };
  }

  async #view(session: SessionRow): Promise<SessionView> {
    const { db, hub } = this.#deps;
    const { id, athleteId, startedUtcMs, endedUtcMs, importedFrom } = session;
    const [leadIn, stored, trials] = await Promise.all([
      listLeadIn(db, id),
      listMountings(db, id),
      listTrialsOfSession(db, id),
    ]);
    const feed = hub.feed(athleteId);
    const live = feed.session?.id === id ? feed.mounting : {};
    return {
      id,
      athleteId,
      startedUtcMs,
      endedUtcMs,
      importedFrom,
      leadInStep: leadIn.find((each) => each.endUtcMs === null)?.step ?? null,
      leadIn,
      mounting: { ...stored, ...live },
      trials,
    };
  }

  async #requireAthlete(id: string): Promise<void> {
    if (!(await athleteExists(this.#deps.db, id))) throw notFound('athlete', '/api/athletes');
  }

  async #requireSession(id: string): Promise<SessionRow> {
    const session = await findSession(this.#deps.db, id);
    if (!session) throw notFound('session', '/api/athletes');
    return session;
  }

  async #requireTrial(id: string): Promise<TrialSummary> {
    const trial = await findTrial(this.#deps.db, id);
    if (!trial) throw notFound('trial', '/api/athletes/:id/trials');
    return trial;
  }

  #now(): number {
    return Math.round(this.#deps.nowUtcMs());
  }
}

function requireOpen(session: SessionNow): void {
  if (session.endedUtcMs !== null) throw conflict('session-ended', 'This session has ended. Start a new one.');
}

function requireNothingUnderWay({ openStep, runningTrialId }: SessionNow): void {
  if (openStep) throw conflict('step-under-way', `The step ${openStep.step} is under way. Stop it first.`);
  if (runningTrialId !== null) throw conflict('trial-running', 'A trial is running. Stop it first.');
}
