/** Which trials still miss samples, asked for every packet that comes. */

/** Samples within this span belong to the trial and are not all durable yet. */
export interface Awaited {
  trialId: string;
  fromUtcMs: number;
  untilUtcMs: number;
}

export class AwaitedSamples {
  readonly #ofDevice = new Map<string, Awaited[]>();

  /** Replaces what was expected for this trial; what ended before `oldestUtcMs` is no longer expected from anybody. */
  expect(awaited: Awaited, deviceIds: readonly string[], oldestUtcMs: number): void {
    this.#keep((each) => each.trialId !== awaited.trialId && each.untilUtcMs > oldestUtcMs);
    for (const deviceId of deviceIds) {
      this.#ofDevice.set(deviceId, [...(this.#ofDevice.get(deviceId) ?? []), awaited]);
    }
  }

  forget(trialId: string): void {
    this.#keep((each) => each.trialId !== trialId);
  }

  /** Trials to which samples of this device from `firstUtcMs` to `lastUtcMs` belong. */
  trialsWith(deviceId: string, firstUtcMs: number, lastUtcMs: number): string[] {
    const found: string[] = [];
    for (const { trialId, fromUtcMs, untilUtcMs } of this.#ofDevice.get(deviceId) ?? []) {
      if (firstUtcMs < untilUtcMs && lastUtcMs >= fromUtcMs) found.push(trialId);
    }
    return found;
  }

  #keep(wanted: (awaited: Awaited) => boolean): void {
    for (const [deviceId, all] of this.#ofDevice) {
      const kept = all.filter(wanted);
      if (kept.length === 0) this.#ofDevice.delete(deviceId);
      else if (kept.length < all.length) this.#ofDevice.set(deviceId, kept);
    }
  }
}
