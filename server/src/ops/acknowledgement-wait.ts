/**
 * How long sensors wait for acknowledgements. One frame at a time is followed for each device, so that what is kept does not
 * grow while nothing is acknowledged; the frame that has waited longest is the one that is followed.
 */

interface Followed {
  bootId: number;
  /** Sequence number after the last sample of the frame. */
  end: number;
  sinceMs: number;
}

export class AcknowledgementWait {
  readonly #followed = new Map<string, Followed>();

  came(deviceId: string, bootId: number, end: number, nowMs: number): void {
    if (this.#followed.get(deviceId)?.bootId === bootId) return;
    this.#followed.set(deviceId, { bootId, end, sinceMs: nowMs });
  }

  /** Everything before `next` is durable. Milliseconds that the frame has waited; null when it goes on waiting. */
  durable(deviceId: string, bootId: number, next: number, nowMs: number): number | null {
    const frame = this.#followed.get(deviceId);
    if (frame?.bootId !== bootId || frame.end > next) return null;
    this.#followed.delete(deviceId);
    return nowMs - frame.sinceMs;
  }

  /** It will send again what was not acknowledged. */
  left(deviceId: string): void {
    this.#followed.delete(deviceId);
  }

  oldestMs(nowMs: number): number {
    let oldestMs = 0;
    for (const { sinceMs } of this.#followed.values()) oldestMs = Math.max(oldestMs, nowMs - sinceMs);
    return oldestMs;
  }
}
