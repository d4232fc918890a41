/** Writes down which devices exist and when they came and went. */
import type { KnownSensor } from '@ambipede/shared';
import { messageOf } from '../errors.ts';
import type { Db } from '../store/database.ts';
import { sensorSeen } from '../store/sensors.ts';
import { Turns } from './turns.ts';

/** Ids that were enrolled once and are no longer stay here: beyond this many new ones are not written down. */
export const KNOWN_SENSORS_MAX = 10_000;

export class SensorRegister {
  readonly #db: Db;
  readonly #nowUtcMs: () => number;
  readonly #onProblem: (text: string) => void;
  /** Whether it is connected now, of every device that has ever been. */
  readonly #seen = new Map<string, boolean>();
  readonly #turns = new Turns();

  constructor(db: Db, known: readonly KnownSensor[], nowUtcMs: () => number, onProblem: (text: string) => void) {
    this.#db = db;
    this.#nowUtcMs = nowUtcMs;
    this.#onProblem = onProblem;
    for (const { deviceId, lastSeenUtcMs } of known) if (lastSeenUtcMs !== null) this.#seen.set(deviceId, false);
  }

  hasBeenSeen(deviceId: string): boolean {
    return this.#seen.has(deviceId);
  }

  changed(deviceId: string, connected: boolean): void {
    if ((this.#seen.get(deviceId) ?? false) === connected) return;
    if (!this.#seen.has(deviceId) && this.#seen.size >= KNOWN_SENSORS_MAX) {
      return this.#onProblem(`More than ${KNOWN_SENSORS_MAX} sensors have connected; a new one is not written down.`);
    }
    this.#seen.set(deviceId, connected);
    const seenUtcMs = Math.round(this.#nowUtcMs());
    this.#turns
      .take(() => sensorSeen(this.#db, deviceId, seenUtcMs))
      .catch((error: unknown) => this.#onProblem(`A sensor could not be written down: ${messageOf(error)}`));
  }

  /** Resolves when everything said so far is written. */
  idle(): Promise<void> {
    return this.#turns.idle();
  }
}
