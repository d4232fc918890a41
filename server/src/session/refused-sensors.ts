/** Devices that were turned away since the server started, for whoever looks for a sensor that does not come. */
import type { RefusedSensor } from '@ambipede/shared';

/** Anybody who reaches the socket can make up device ids: beyond this many the one refused longest ago is forgotten. */
export const REFUSED_SENSORS_MAX = 100;

export class RefusedSensors {
  readonly #nowUtcMs: () => number;
  /** Refused last is last. */
  readonly #refused = new Map<string, RefusedSensor>();

  constructor(nowUtcMs: () => number) {
    this.#nowUtcMs = nowUtcMs;
  }

  note(deviceId: string, reason: RefusedSensor['reason']): void {
    const attempts = (this.#refused.get(deviceId)?.attempts ?? 0) + 1;
    this.#refused.delete(deviceId);
    this.#refused.set(deviceId, { deviceId, reason, attempts, lastUtcMs: Math.round(this.#nowUtcMs()) });
    const oldest = this.#refused.keys().next().value;
    if (this.#refused.size > REFUSED_SENSORS_MAX && oldest !== undefined) this.#refused.delete(oldest);
  }

  forget(deviceId: string): void {
    this.#refused.delete(deviceId);
  }

  /** Refused last comes first. */
  list(): RefusedSensor[] {
    return [...this.#refused.values()].reverse();
  }
}
