/** The clock of a device in software: an offset from its start and a crystal that is a little wrong. */

/** Host time in ms UTC, with the resolution of the monotonic clock. */
export function hostNowMs(): number {
  return performance.timeOrigin + performance.now();
}

export interface DeviceClock {
  /** Device ticks (us since boot) at a host time in ms. */
  tickUsAt(hostMs: number): number;
  /** Host time in ms of a moment `movementS` seconds after the start of the movement. */
  hostMsAt(movementS: number): number;
  /** Seconds since the start of the movement at a host time; negative before it. */
  movementSAt(hostMs: number): number;
}

/**
 * `startHostMs`: when the movement starts. `bootedS`: how long the device had been on by then. `skewPpm`: how much faster
 * than true its ticks are. `speed`: seconds of movement (and of device time) in a second of the host.
 */
export function makeDeviceClock(startHostMs: number, bootedS: number, skewPpm: number, speed: number): DeviceClock {
  const movementSAt = (hostMs: number): number => ((hostMs - startHostMs) / 1000) * speed;
  return {
    movementSAt,
    hostMsAt: (movementS) => startHostMs + (movementS / speed) * 1000,
    tickUsAt: (hostMs) => Math.max(0, Math.round((movementSAt(hostMs) + bootedS) * (1 + skewPpm * 1e-6) * 1e6)),
  };
}
