/** The clock of a device in software: an offset from its start and a crystal that is a little wrong, and not steadily so. */
import { makeDrift } from './drift.ts';

/** Host time in ms UTC, with the resolution of the monotonic clock. */
export function hostNowMs(): number {
  return performance.timeOrigin + performance.now();
}

export interface DeviceClock {
  /** Device ticks (us since the device was first switched on) at a host time in ms. */
  tickUsAt(hostMs: number): number;
  /** Host time in ms of a moment `movementS` seconds after the start of the movement. */
  hostMsAt(movementS: number): number;
  /** Seconds since the start of the movement at a host time; negative before it. */
  movementSAt(hostMs: number): number;
}

export interface ClockSettings {
  /** Host time in ms UTC at which the movement starts. */
  startMs: number;
  /** How long the device had been on by then. */
  bootedS: number;
  /** How much faster than true its ticks are. */
  skewPpm: number;
  /** How far that wanders to either side. */
  driftPpm: number;
  /** Chooses how it wanders. */
  seed: number;
  /** Seconds of movement (and of device time) in a second of the host. */
  speed: number;
}

export function makeDeviceClock({ startMs, bootedS, skewPpm, driftPpm, seed, speed }: ClockSettings): DeviceClock {
  const drift = makeDrift(driftPpm, seed);
  const movementSAt = (hostMs: number): number => ((hostMs - startMs) / 1000) * speed;
  return {
    movementSAt,
    hostMsAt: (movementS) => startMs + (movementS / speed) * 1000,
    tickUsAt: (hostMs) => {
      const onS = Math.max(0, movementSAt(hostMs) + bootedS);
      return Math.round(onS * (1 + skewPpm * 1e-6) * 1e6 + drift.gainedUs(onS));
    },
  };
}
