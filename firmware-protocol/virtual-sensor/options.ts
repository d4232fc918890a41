/** What a device in software is told, and what it tells. */
import type { Reading } from '../src/sample-payload.ts';
import type { RadioSpan } from './radio.ts';
import type { Span } from './ring-buffer.ts';

/** `tS`: seconds after the start at which it was measured, where the source knows; rising. Else one slot of the rate each. */
export type SourceReading = Reading & { tS?: number };

/**
 * A restart. What is in memory is `lost`, with the sequence and the counter: a new boot id begins at sequence 0. Or it is
 * `kept` (flash, and a counter on a battery of its own): the boot goes on where it was, with a pause in what is measured.
 */
export interface Reboot {
  memory: 'lost' | 'kept';
  /** Seconds of movement during which the device is off. Default 0. */
  offS?: number;
}

export interface VirtualSensorOptions {
  deviceId: string;
  /** As it was shown when the device was enrolled. Default: none. */
  token?: string;
  /** ws://host:port/ingest */
  url: string;
  rateHz: number;
  /** Readings at the nominal rate, the first at the start time. null or a value that is no number: nothing was measured. */
  source: Iterable<SourceReading | null>;
  /** Host time (ms UTC, `hostNowMs`) of the first reading; give sensors of one body the same. Default: now. */
  startMs?: number;
  /** Error of the device's crystal, positive is fast. Default 0. */
  skewPpm?: number;
  /** How far that error wanders to either side within minutes, as with temperature. Default 0. */
  driftPpm?: number;
  /** How long the device had been on before the first reading. Default 10 s. */
  bootedS?: number;
  /** Must differ from every earlier one of this device id that the server has stored. Default: random. A reboot counts on. */
  bootId?: number;
  /** Fixes the spread of the reconnect pauses, the delays of a slow radio and the drift. Default 1. */
  seed?: number;
  /**
   * Seconds of movement in a second of the host. Other than 1 it needs a server whose clock runs as fast: one with a
   * normal clock stamps what it gets with true time, or refuses the device's clock.
   */
  speed?: number;
  /** Movement time gathered into one frame. Default 40 ms. */
  frameMs?: number;
  /** Movement time that fits into the ring buffer. Default 120 s. */
  bufferS?: number;
  /** Spans of movement time with a bad radio. */
  radioLoss?: readonly RadioSpan[];
  /** Restarts at moments of movement time, in order. */
  reboots?: readonly (Reboot & { atS: number })[];
}

/** One boot id. Every sample is acknowledged, still held, or in a span of `lost`. */
export interface BootReport {
  bootId: number;
  sampled: number;
  /** Samples that this device does not have any more and that were not acknowledged to it. */
  lost: readonly Span[];
}

export interface VirtualSensorState {
  connected: boolean;
  /** Samples of all boots. */
  sampled: number;
  acknowledged: number;
  dropped: number;
  connections: number;
  /** Oldest first; the last one is running. */
  boots: BootReport[];
  /** What the server, or the network, complained about since the last welcome. */
  problem: string | null;
}

export interface VirtualSensor {
  /** Stops measuring, waits a little for what is not acknowledged, says goodbye. */
  stop(): Promise<VirtualSensorState>;
  /** Restarts the device now. */
  reboot(reboot: Reboot): void;
  /** Resolves when the source has ended and all is acknowledged, or after `stop`. */
  finished: Promise<VirtualSensorState>;
  state(): VirtualSensorState;
}
