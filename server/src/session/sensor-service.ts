/** Where the sensors sit: in the store, in memory, and in the open session that uses them. */
import type { KnownSensor, Place, SensorPlacement } from '@ambipede/shared';
import { conflict, notFound } from '../errors.ts';
import { athleteExists } from '../store/athletes.ts';
import type { Db } from '../store/database.ts';
import { listSensors, placeSensor, sensorAt } from '../store/sensors.ts';
import { addSessionSensor, findOpenSession, sessionDevices } from '../store/sessions.ts';
import type { LiveHub } from './live-hub.ts';
import type { PipelineRestarter } from './pipeline-restarter.ts';
import type { Placements } from './placements.ts';
import type { TurnsOfEach } from './turns-of-each.ts';
import type { Turns } from './turns.ts';

export interface SensorServiceDependencies {
  db: Db;
  hub: LiveHub;
  placements: Placements;
  restarter: PipelineRestarter;
  /** One change at a time of what sensors there are and where they sit. */
  turns: Turns;
  /** And none while an athlete's session changes. */
  athleteTurns: TurnsOfEach;
  /** Time of the newest sample of a device since the server started, ms UTC. */
  newestUtcMs: (deviceId: string) => number | null;
}

export class SensorService {
  readonly #deps: SensorServiceDependencies;

  constructor(deps: SensorServiceDependencies) {
    this.#deps = deps;
  }

  async sensors(): Promise<KnownSensor[]> {
    const known = await listSensors(this.#deps.db);
    return known.map((sensor) => {
      const newest = this.#deps.newestUtcMs(sensor.deviceId);
      if (newest === null) return sensor;
      return { ...sensor, lastSeenUtcMs: Math.round(Math.max(newest, sensor.lastSeenUtcMs ?? 0)) };
    });
  }

  placeSensor(deviceId: string, placement: SensorPlacement): Promise<KnownSensor> {
    const { turns, athleteTurns, placements } = this.#deps;
    return turns.take(() => {
      const athletes = [placements.of(deviceId)?.athleteId, placement.athleteId].filter((id) => id != null);
      return athleteTurns.take(athletes, () => this.#place(deviceId, placement));
    });
  }

  async #place(deviceId: string, { athleteId, place }: SensorPlacement): Promise<KnownSensor> {
    const { db, hub, placements, restarter } = this.#deps;
    const before = placements.of(deviceId);
    if (before?.athleteId === athleteId && before.place === place) return placeSensor(db, deviceId, athleteId, place);
    if (before) await this.#requireNotInUse(deviceId, before.athleteId);
    if (athleteId !== null) await this.#requireFree(deviceId, athleteId, place);
    const placed = await placeSensor(db, deviceId, athleteId, place);
    placements.set(deviceId, athleteId, place);
    for (const each of new Set([before?.athleteId, athleteId])) {
      if (!each) continue;
      const open = await findOpenSession(db, each);
      if (open && each === athleteId) await addSessionSensor(db, open.id, place, deviceId);
      await restarter.restart(each);
      hub.publishSensors(each);
    }
    return placed;
  }

  /** The session says who wore what; a sensor that wanders within it would mix two people or two places. */
  async #requireNotInUse(deviceId: string, athleteId: string): Promise<void> {
    const open = await findOpenSession(this.#deps.db, athleteId);
    if (!open) return;
    const used = Object.values(await sessionDevices(this.#deps.db, open.id));
    if (!used.includes(deviceId)) return;
    throw conflict(
      'sensor-in-use',
      'This sensor belongs to an open session. End that session first, then move the sensor.',
    );
  }

  async #requireFree(deviceId: string, athleteId: string, place: Place): Promise<void> {
    if (!(await athleteExists(this.#deps.db, athleteId))) throw notFound('athlete', '/api/athletes');
    const other = await sensorAt(this.#deps.db, athleteId, place, deviceId);
    if (other === null) return;
    throw conflict(
      'place-taken',
      `The ${place} of this athlete already has the sensor ${other}. Take that one off first.`,
    );
  }
}
