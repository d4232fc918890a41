/** Gives an athlete's feed a new pipeline that knows the lead-in of the open session, read back from the store. */
import { messageOf } from '../errors.ts';
import type { Db } from '../store/database.ts';
import { findOpenSession, listLeadIn, sessionDevices } from '../store/sessions.ts';
import type { LiveHub } from './live-hub.ts';
import { completedSpans, loadWindows } from './raw-windows.ts';
import { windowsOf } from './recording.ts';
import { leadInReplay } from './replay.ts';

export class PipelineRestarter {
  readonly #db: Db;
  readonly #hub: () => LiveHub;
  readonly #nowUtcMs: () => number;
  readonly #onProblem: (text: string) => void;
  readonly #restarting = new Set<string>();

  constructor(db: Db, hub: () => LiveHub, nowUtcMs: () => number, onProblem: (text: string) => void) {
    this.#db = db;
    this.#hub = hub;
    this.#nowUtcMs = nowUtcMs;
    this.#onProblem = onProblem;
  }

  async restart(athleteId: string): Promise<void> {
    const feed = this.#hub().feed(athleteId);
    const session = await findOpenSession(this.#db, athleteId);
    if (!session) return feed.restart(null, this.#hub().rates(athleteId), this.#nowUtcMs());
    const rows = await listLeadIn(this.#db, session.id);
    const spans = completedSpans(rows);
    const raw = await loadWindows(this.#db, await sessionDevices(this.#db, session.id), windowsOf(spans, null));
    feed.restart(
      {
        id: session.id,
        startedUtcMs: session.startedUtcMs,
        leadInStep: rows.find((row) => row.endUtcMs === null)?.step ?? null,
      },
      this.#hub().rates(athleteId),
      this.#nowUtcMs(),
      leadInReplay(spans, raw, session.startedUtcMs),
    );
  }

  /** From a packet's handler: at most one at a time, and a failure is only told. */
  restartSoon(athleteId: string): void {
    if (this.#restarting.has(athleteId)) return;
    this.#restarting.add(athleteId);
    this.restart(athleteId)
      .catch((error: unknown) => this.#onProblem(`A live view could not be restarted: ${messageOf(error)}`))
      .finally(() => this.#restarting.delete(athleteId));
  }
}
