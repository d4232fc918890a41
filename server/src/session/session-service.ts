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
  sessionDevices,
  startLeadIn,
  stopLeadIn,
} from '../store/sessions.ts';
import type { SessionRow } from '../store/sessions.ts';
import { changeTrial, closeTrial, createTrial, findTrial, listTrialsOfSession } from '../store/trials.ts';
import type { Finaliser } from './finaliser.ts';
import type { LiveHub } from './live-hub.ts';
import type { Placements } from './placements.ts';
import type { PipelineRestarter } from './pipeline-restarter.ts';
import type { Turns } from './turns.ts';

export interface SessionServiceDependencies {
  db: Db;
  hub: LiveHub;
  placements: Placements;
  finaliser: Finaliser;
  restarter: PipelineRestarter;
  nowUtcMs: () => number;
  /** One change at a time: a double tap must not start two trials. */
  turns: Turns;
}

export class SessionService {
  readonly #deps: SessionServiceDependencies;
  readonly #turns: Turns;

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
    return this.#turns.take(async () => {
      const { db, hub, placements, restarter } = this.#deps;
      await this.#requireAthlete(athleteId);
      if (await findOpenSession(db, athleteId)) {
        throw conflict('session-open', 'This athlete already has an open session. Go on with it, or end it first.');
      }
      const devices = Object.fromEntries(placements.onAthlete(athleteId).map((each) => [each.place, each.deviceId]));
      const session = await createSession(db, athleteId, devices, this.#now());
      hub.resetCounts(athleteId);
      await restarter.restart(athleteId);
      return this.#view(session);
    });
  }

  async session(id: string): Promise<SessionView> {
    return this.#view(await this.#requireSession(id));
  }

  endSession(id: string): Promise<SessionView> {
    return this.#turns.take(async () => {
      const { db, restarter } = this.#deps;
      const session = await this.#requireSession(id);
      if (session.endedUtcMs === null) {
        await dropOpenLeadIn(db, id);
        const running = await this.#runningTrial(id);
        if (running) await this.#stop(running);
        await endSession(db, id, this.#now());
        await restarter.restart(session.athleteId);
      }
      return this.#view(await this.#requireSession(id));
    });
  }

  startLeadIn(sessionId: string, step: LeadInStep): Promise<SessionView> {
    return this.#turns.take(async () => {
      const { db, hub } = this.#deps;
      const session = await this.#requireOpen(sessionId);
      await this.#requireNothingUnderWay(sessionId);
      await startLeadIn(db, sessionId, step, this.#now());
      hub.feed(session.athleteId).setLeadInStep(step);
      return this.#view(session);
    });
  }

  stopLeadIn(sessionId: string, step: LeadInStep): Promise<SessionView> {
    return this.#turns.take(async () => {
      const { db, hub } = this.#deps;
      const session = await this.#requireOpen(sessionId);
      const open = (await listLeadIn(db, sessionId)).find((each) => each.endUtcMs === null);
      if (open?.step !== step) {
        throw conflict('step-not-under-way', `The step ${step} is not under way. Start it first.`);
      }
      const endUtcMs = this.#now();
      await stopLeadIn(db, sessionId, endUtcMs);
      hub.feed(session.athleteId).endLeadIn({ step, startUtcMs: open.startUtcMs, endUtcMs }, endUtcMs);
      return this.#view(session);
    });
  }

  startTrial(sessionId: string, task: Task): Promise<TrialSummary> {
    return this.#turns.take(async () => {
      const { db, hub } = this.#deps;
      const session = await this.#requireOpen(sessionId);
      await this.#requireNothingUnderWay(sessionId);
      if (!(await sessionDevices(db, sessionId)).pelvis) {
        throw conflict(
          'no-pelvis-sensor',
          'No sensor is placed at the pelvis of this athlete. Place one, then start the trial.',
        );
      }
      const startedUtcMs = this.#now();
      const bodyMassKg = (await findAthlete(db, session.athleteId))?.bodyMassKg ?? null;
      const id = await createTrial(db, sessionId, task, startedUtcMs, bodyMassKg);
      hub.feed(session.athleteId).startTrial({ id, task, startedUtcMs, bodyMassKg });
      return this.#requireTrial(id);
    });
  }

  /** Stopping a trial that has been stopped gives what there is: a second tap is no mistake. */
  stopTrial(id: string): Promise<TrialSummary> {
    return this.#turns.take(async () => {
      const trial = await this.#requireTrial(id);
      return trial.state === 'running' ? this.#stop(trial) : trial;
    });
  }

  async #stop(trial: TrialSummary): Promise<TrialSummary> {
    const { db, hub, finaliser } = this.#deps;
    const endedUtcMs = this.#now();
    await closeTrial(db, trial.id, endedUtcMs);
    hub.feed(trial.athleteId).endTrial(trial.id, endedUtcMs);
    finaliser.enqueue(trial.id);
    return this.#requireTrial(trial.id);
  }

  async #view(session: SessionRow): Promise<SessionView> {
    const { db, hub } = this.#deps;
    const [leadIn, stored, trials] = await Promise.all([
      listLeadIn(db, session.id),
      listMountings(db, session.id),
      listTrialsOfSession(db, session.id),
    ]);
    const feed = hub.feed(session.athleteId);
    const live = feed.session?.id === session.id ? feed.mounting : {};
    return {
      ...session,
      leadInStep: leadIn.find((each) => each.endUtcMs === null)?.step ?? null,
      leadIn,
      mounting: { ...stored, ...live },
      trials,
    };
  }

  async #requireNothingUnderWay(sessionId: string): Promise<void> {
    const step = (await listLeadIn(this.#deps.db, sessionId)).find((each) => each.endUtcMs === null)?.step;
    if (step) throw conflict('step-under-way', `The step ${step} is under way. Stop it first.`);
    if (await this.#runningTrial(sessionId)) throw conflict('trial-running', 'A trial is running. Stop it first.');
  }

  async #runningTrial(sessionId: string): Promise<TrialSummary | null> {
    const trials = await listTrialsOfSession(this.#deps.db, sessionId);
    return trials.find((trial) => trial.state === 'running') ?? null;
  }

  async #requireAthlete(id: string): Promise<void> {
    if (!(await athleteExists(this.#deps.db, id))) throw notFound('athlete', '/api/athletes');
  }

  async #requireSession(id: string): Promise<SessionRow> {
    const session = await findSession(this.#deps.db, id);
    if (!session) throw notFound('session', '/api/athletes');
    return session;
  }

  async #requireOpen(id: string): Promise<SessionRow> {
    const session = await this.#requireSession(id);
    if (session.endedUtcMs !== null) throw conflict('session-ended', 'This session has ended. Start a new one.');
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
