/** Erases an athlete: from the store, from memory, and again when a backup from before brings them back. */
import type { Erasure } from '@ambipede/shared';
import { conflict, notFound } from '../errors.ts';
import { findAthlete, athleteExists } from '../store/athletes.ts';
import type { Db } from '../store/database.ts';
import { eraseRows, eraseSamples, freeSensors } from '../store/erase-athlete.ts';
import type { LiveHub } from './live-hub.ts';
import type { Placements } from './placements.ts';
import type { TurnsOfEach } from './turns-of-each.ts';

/** Ids of those who were erased, outside of the database: a restored backup does not know of it. */
export interface ErasedList {
  /** Resolves when it is on disk. */
  add(athleteId: string): Promise<void>;
  all(): Promise<string[]>;
}

export interface ErasureDependencies {
  db: Db;
  hub: LiveHub;
  placements: Placements;
  athleteTurns: TurnsOfEach;
  erasedList: ErasedList;
  /** Open feeds are looked at again. */
  onAccessChange: () => void;
}

export const REMAINS: readonly string[] = [
  'The audit: who read and changed what, and when. It holds ids and no names.',
  'Backups made before now, until you delete them. An athlete whom a restored backup brings back is erased again when the server starts.',
  'Files that somebody took out before now, such as reports and exports: they are where they were saved.',
];

export class ErasureService {
  readonly #deps: ErasureDependencies;

  constructor(deps: ErasureDependencies) {
    this.#deps = deps;
  }

  /** @throws ApiProblem 404, 409 `wrong-name`, 409 `session-running` */
  erase(athleteId: string, typedName: string): Promise<Erasure> {
    const { db, athleteTurns, erasedList } = this.#deps;
    return athleteTurns.take([athleteId], async () => {
      const athlete = await findAthlete(db, athleteId);
      if (!athlete) throw notFound('athlete', '/api/athletes');
      if (athlete.name.trim() !== typedName.trim())
        throw conflict('wrong-name', 'The name is not that of the athlete. Type it as the roster shows it.');
      if (athlete.openSessionId !== null)
        throw conflict('session-running', 'A session of this athlete is open. End it first, then erase.');
      // First: when the machine goes down in the middle, the next start goes on.
      await erasedList.add(athleteId);
      return { erased: await this.#remove(athleteId), remains: [...REMAINS] };
    });
  }

  /** At the start of the server. @returns how many were erased again */
  async resume(): Promise<number> {
    const { db, erasedList } = this.#deps;
    let again = 0;
    for (const athleteId of await erasedList.all()) {
      if (!(await athleteExists(db, athleteId))) continue;
      await this.#remove(athleteId);
      again += 1;
    }
    return again;
  }

  async #remove(athleteId: string): Promise<Record<string, number>> {
    const { db, hub, placements, onAccessChange } = this.#deps;
    await freeSensors(db, athleteId);
    for (const { deviceId, place } of placements.onAthlete(athleteId)) placements.set(deviceId, null, place);
    const samples = await eraseSamples(db, athleteId);
    const rows = (await eraseRows(db, athleteId)) ?? {};
    // A batch that was on its way while the sensor was still the athlete's.
    const late = await eraseSamples(db, athleteId);
    hub.forget(athleteId);
    onAccessChange();
    return { ...rows, samples: samples + late };
  }
}
