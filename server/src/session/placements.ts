/** Which device sits where on whom, in memory: every packet asks. The store has the same. */
import type { Place } from '@ambipede/shared';
import type { PlacedSensor } from '../store/sensors.ts';

export class Placements {
  readonly #byDevice = new Map<string, PlacedSensor>();

  constructor(placed: readonly PlacedSensor[]) {
    for (const sensor of placed) this.#byDevice.set(sensor.deviceId, sensor);
  }

  of(deviceId: string): PlacedSensor | null {
    return this.#byDevice.get(deviceId) ?? null;
  }

  set(deviceId: string, athleteId: string | null, place: Place): void {
    if (athleteId === null) this.#byDevice.delete(deviceId);
    else this.#byDevice.set(deviceId, { deviceId, athleteId, place });
  }

  /** Pelvis first. */
  onAthlete(athleteId: string): PlacedSensor[] {
    return [...this.#byDevice.values()]
      .filter((sensor) => sensor.athleteId === athleteId)
      .sort((a, b) => a.place.localeCompare(b.place));
  }
}
