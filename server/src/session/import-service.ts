/** Recordings from files: read in a thread of their own, stored as an ended session, analysed like streamed ones. */
import { randomUUID } from 'node:crypto';
import type { ImportAnswer, Task } from '@ambipede/shared';
import { ApiProblem, conflict, messageOf, notFound } from '../errors.ts';
import { findAthlete } from '../store/athletes.ts';
import type { Database } from '../store/database.ts';
import { IMPORTED_DEVICE, overlappingTrialUtcMs, storeImport } from '../store/imports.ts';
import { listTrialsOfSession } from '../store/trials.ts';
import type { Finaliser } from './finaliser.ts';
import { planInThread, type ImportReply, type ImportRequest } from './import-thread.ts';
import { Turns } from './turns.ts';
import type { TurnsOfEach } from './turns-of-each.ts';

export interface ImportServiceDependencies {
  database: Database;
  finaliser: Finaliser;
  nowUtcMs: () => number;
  /** One change at a time of each athlete: an import sent twice is stored once. */
  athleteTurns: TurnsOfEach;
}

/** No more imports wait at a time: each is in memory as a whole. */
export const IMPORTS_WAITING_MAX = 4;
export const IMPORTS_BUSY = new ApiProblem(503, 'busy', 'Other recordings are being imported. Try again in a minute.');

export class ImportService {
  readonly #deps: ImportServiceDependencies;
  /** One file at a time is read. */
  readonly #turns = new Turns();
  #waiting = 0;

  constructor(deps: ImportServiceDependencies) {
    this.#deps = deps;
  }

  csv(athleteId: string, body: Uint8Array): Promise<ImportAnswer> {
    return this.#import(athleteId, { kind: 'csv', body });
  }

  motionBids(
    athleteId: string,
    body: Uint8Array,
    asked: { fileName: string; task: Task | null; startedUtcMs: number | null },
  ): Promise<ImportAnswer> {
    return this.#import(athleteId, { kind: 'motion-bids', body, ...asked });
  }

  async #import(athleteId: string, asked: Asked): Promise<ImportAnswer> {
    if (this.#waiting >= IMPORTS_WAITING_MAX) throw IMPORTS_BUSY;
    this.#waiting += 1;
    try {
      const { athleteTurns } = this.#deps;
      return await this.#turns.take(() => athleteTurns.take([athleteId], () => this.#inTurn(athleteId, asked)));
    } finally {
      this.#waiting -= 1;
    }
  }

  async #inTurn(athleteId: string, asked: Asked): Promise<ImportAnswer> {
    const { database, finaliser, nowUtcMs } = this.#deps;
    const athlete = await findAthlete(database.db, athleteId);
    if (!athlete) throw notFound('athlete', '/api/athletes');
    const deviceIds = { pelvis: IMPORTED_DEVICE + randomUUID(), sternum: IMPORTED_DEVICE + randomUUID() };
    const reply = await planInThread({ ...asked, nowUtcMs: nowUtcMs(), deviceIds }).catch((error: unknown) => {
      throw new ApiProblem(400, 'unreadable-recording', `The recording could not be read: ${messageOf(error)}.`);
    });
    const { plan, importedFrom, hasMass } = requirePlan(reply);
    const clashUtcMs = await overlappingTrialUtcMs(database.db, athleteId, plan.trials);
    if (clashUtcMs !== null)
      throw conflict(
        'already-there',
        `This athlete has a trial of the same time already (from ${new Date(clashUtcMs).toISOString()}): it would count twice. Correct the start time, or discard that trial first.`,
      );
    // As a trial of today takes it: the mass at that time is not in a table of values.
    const bodyMassKg = hasMass ? plan.bodyMassKg : athlete.bodyMassKg;
    const { sessionId, trialIds } = await storeImport(database, { athleteId, importedFrom, bodyMassKg, plan });
    for (const trialId of trialIds) finaliser.enqueue(trialId);
    return { sessionId, trials: await listTrialsOfSession(database.db, sessionId), remarks: plan.remarks };
  }
}

type Asked =
  { kind: 'csv'; body: Uint8Array } | Omit<Extract<ImportRequest, { kind: 'motion-bids' }>, 'nowUtcMs' | 'deviceIds'>;

function requirePlan(reply: ImportReply): Extract<ImportReply, { plan: unknown }> {
  if ('plan' in reply) return reply;
  if ('fault' in reply) throw new ApiProblem(400, 'unreadable-recording', reply.fault);
  // Answered as the validation of any other route.
  throw Object.assign(new Error('validation'), { validation: reply.validation, validationContext: 'body' });
}
