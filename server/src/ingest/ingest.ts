/**
 * All sensors together: which device is on which connection, its stream, and where its samples go.
 * Samples are handed on as soon as they are in order; the disk is not waited for. Acknowledgements wait for the disk.
 */
import type { HelloMessage, ProtocolError, SamplesMessage, StatusMessage } from '@ambipede/firmware-protocol';
import { AppendQueue, type QueueLimits } from './append-queue.ts';
import type { Exchange } from './clock.ts';
import { Connection, type ConnectionOwner } from './connection.ts';
import { DeviceRegister } from './device-register.ts';
import { CONNECTIONS_MAX } from './limits.ts';
import type { RawBatch, RawLog } from './raw-log.ts';
import { decodePayload, type TimedSample } from './raw-samples.ts';
import {
  acceptExchange,
  acceptSamples,
  finishStream,
  isSameStream,
  markQueued,
  openStream,
  rewindStream,
  type SensorStream,
  type StreamOutput,
} from './sensor-stream.ts';
import { deviceStatusOf, sensorStateOf, type Device, type DeviceStatus, type SensorState } from './sensor-state.ts';
import { askStreamEnd } from './stream-end.ts';
import { makeUtcClock } from './utc-clock.ts';

export type { DeviceStatus, SensorState } from './sensor-state.ts';

export interface SamplesInfo {
  bootId: number;
  firstSequence: number;
  /** Samples missing just before these. */
  gapBefore: number;
  rateHz: number;
}

export interface IngestDependencies {
  log: RawLog;
  /** Whether a hello with this token may be from this device. Asked before anything else is made of it. */
  admits(deviceId: string, token: Uint8Array): boolean;
  /** In order and without repetition for each stream; times as a reader of the log will see them. */
  onSamples(deviceId: string, samples: TimedSample[], info: SamplesInfo): void;
  onStatus(deviceId: string, status: DeviceStatus): void;
  /** Connected, disconnected, gap, status, clock: not on every batch. `Ingest.sensorState` tells the rest at any time. */
  onSensorChange(deviceId: string, state: SensorState): void;
  /** Something that whoever runs the server should read. */
  onProblem(text: string, deviceId?: string): void;
  /** Server time in ms UTC. */
  nowUtcMs?: () => number;
  queueLimits?: QueueLimits;
}

export class Ingest implements ConnectionOwner {
  readonly nowUtcMs: () => number;
  readonly #deps: IngestDependencies;
  readonly #queue: AppendQueue;
  readonly #devices: DeviceRegister;
  readonly #connections = new Set<Connection>();

  constructor(deps: IngestDependencies) {
    this.#deps = deps;
    this.nowUtcMs = deps.nowUtcMs ?? makeUtcClock();
    const events = {
      onDurable: (deviceId: string, bootId: number, next: number) => this.#onDurable(deviceId, bootId, next),
      onDrained: (deviceId: string, bootId: number) => this.#onDrained(deviceId, bootId),
      onProblem: (text: string) => deps.onProblem(text),
    };
    this.#queue = new AppendQueue(deps.log, events, deps.queueLimits);
    this.#devices = new DeviceRegister((deviceId, bootId) => this.#queue.queuedSamplesOf(deviceId, bootId) > 0);
  }

  /** Null for a device that has not been seen since the server started. */
  sensorState(deviceId: string): SensorState | null {
    const device = this.#devices.get(deviceId);
    return device ? this.#stateOf(device) : null;
  }

  /** `failing`: the log rejects, nothing is acknowledged, samples flow on. */
  storageState(): { failing: boolean; queuedSamples: number } {
    return { failing: this.#queue.failing, queuedSamples: this.#queue.queuedSamples };
  }

  async close(): Promise<void> {
    for (const connection of this.#connections) connection.end(1001, 'server stops');
    await this.#queue.close();
  }

  onConnect(connection: Connection): void {
    this.#connections.add(connection);
    if (this.#connections.size > CONNECTIONS_MAX) {
      connection.fail('server-full', `More than ${CONNECTIONS_MAX} devices are connected.`);
    }
  }

  /** For a device whose token has been replaced or taken back. */
  expel(deviceId: string): void {
    this.#devices.get(deviceId)?.connection?.fail('not-enrolled', 'The token of this device is no longer valid.');
  }

  onHello(connection: Connection, hello: HelloMessage): void {
    // Which of the two it is, is not for a stranger to know.
    if (!this.#deps.admits(hello.deviceId, hello.token)) {
      return connection.fail('not-enrolled', 'This device is not enrolled here, or this is not its token.');
    }
    const device = this.#devices.obtain(hello.deviceId);
    const stream = device.stream;
    if (stream?.bootId === hello.bootId && !isSameStream(stream, hello)) {
      return connection.fail('hello-changed', `Rate, scales or channels changed within boot ${hello.bootId}.`);
    }
    device.connection?.fail('replaced', 'The same device id connected again.');
    device.connection = connection;
    void this.#open(device, connection, hello);
  }

  onSamples(connection: Connection, message: SamplesMessage): void {
    const device = this.#current(connection);
    if (!device?.stream) return;
    this.#handOn(device, device.stream, acceptSamples(device.stream, message, this.nowUtcMs()), connection);
  }

  onExchange(connection: Connection, exchange: Exchange): void {
    const device = this.#current(connection);
    if (!device?.stream) return;
    this.#handOn(device, device.stream, acceptExchange(device.stream, exchange), connection);
    this.#changed(device);
  }

  onStatus(connection: Connection, message: StatusMessage): void {
    const device = this.#current(connection);
    if (!device) return;
    device.status = deviceStatusOf(message);
    this.#deps.onStatus(device.deviceId, device.status);
    this.#changed(device);
  }

  onGoodbye(connection: Connection): void {
    const device = this.#current(connection);
    if (device?.stream) this.#handOn(device, device.stream, finishStream(device.stream, this.nowUtcMs()), connection);
    connection.end(1000, 'goodbye');
  }

  onProtocolError(connection: Connection, error: ProtocolError): void {
    this.#deps.onProblem(`${error.name}: ${error.text}`, connection.deviceId ?? undefined);
  }

  onSocketError(connection: Connection, error: Error): void {
    this.#deps.onProblem(`Socket: ${error.message}`, connection.deviceId ?? undefined);
  }

  /** The socket has gone, from whichever side. */
  onDisconnect(connection: Connection): void {
    this.#connections.delete(connection);
    const device = this.#current(connection);
    if (!device) return;
    device.connection = null;
    this.#changed(device);
  }

  async #open(device: Device, connection: Connection, hello: HelloMessage): Promise<void> {
    const known = device.stream?.bootId === hello.bootId;
    const end = known ? undefined : await askStreamEnd(this.#deps.log, hello, this.#deps.onProblem);
    if (device.connection !== connection || connection.phase !== 'opening') return;
    if (device.stream && !known) this.#leaveStream(device, device.stream);
    if (device.stream && known) {
      rewindStream(device.stream);
    } else {
      device.stream = openStream(hello, end);
      if (end === undefined) this.#queue.askFirst(hello.deviceId, hello.bootId);
    }
    connection.welcome(device.stream.durableNext);
    this.#changed(device);
  }

  #leaveStream(device: Device, stream: SensorStream): void {
    this.#handOn(device, stream, finishStream(stream, this.nowUtcMs()), null);
    // What the queue refused was to be sent again; a device that has started anew cannot.
    const unstored = stream.queued.next === null ? 0 : Math.max(0, stream.liveNext - stream.queued.next);
    device.earlier.received += stream.counts.received - unstored;
    device.earlier.lost += stream.counts.lost + unstored;
    device.earlier.duplicates += stream.counts.duplicates;
    device.earlier.late += stream.counts.late;
    device.stream = null;
  }

  /** `connection`: who is told what was wrong; null when the one that sent it has gone. */
  #handOn(device: Device, stream: SensorStream, outputs: StreamOutput[], connection: Connection | null): void {
    for (const output of outputs) {
      if (output.kind === 'batch') this.#handOnBatch(device, stream, output.batch, output.gapBefore);
      else if (output.kind === 'late') {
        connection?.fail('samples-late', `${output.count} samples came after they had been given up.`);
      } else {
        connection?.fail(output.error.name, output.error.text);
      }
    }
  }

  #handOnBatch(device: Device, stream: SensorStream, batch: RawBatch, gapBefore: number): void {
    if (this.#queue.enqueue(batch)) markQueued(stream, batch);
    const skip = Math.max(0, stream.liveNext - batch.firstSequence);
    if (skip < batch.count) {
      stream.liveNext = batch.firstSequence + batch.count;
      const samples = decodePayload(batch).slice(skip);
      device.newestUtcMs = samples[samples.length - 1]?.utcMs ?? device.newestUtcMs;
      const { bootId, rateHz } = stream;
      const info = { bootId, rateHz, firstSequence: batch.firstSequence + skip, gapBefore: skip > 0 ? 0 : gapBefore };
      this.#guard(device, () => this.#deps.onSamples(device.deviceId, samples, info));
    }
    if (gapBefore > 0) this.#changed(device);
  }

  #onDurable(deviceId: string, bootId: number, nextSequence: number): void {
    const device = this.#devices.get(deviceId);
    if (device?.stream?.bootId !== bootId) return;
    device.stream.durableNext = Math.max(device.stream.durableNext, nextSequence);
    device.connection?.acknowledge(device.stream.durableNext);
  }

  #onDrained(deviceId: string, bootId: number): void {
    const device = this.#devices.get(deviceId);
    if (device?.stream?.bootId !== bootId) return;
    device.connection?.fail('resend-needed', `Storage caught up: send again from ${device.stream.durableNext}.`);
  }

  #changed(device: Device): void {
    this.#guard(device, () => this.#deps.onSensorChange(device.deviceId, this.#stateOf(device)));
  }

  /** A mistake of whoever listens must not cost samples. */
  #guard({ deviceId }: Device, call: () => void): void {
    try {
      call();
    } catch (error) {
      this.#deps.onProblem(
        `A listener failed: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`,
        deviceId,
      );
    }
  }

  #stateOf(device: Device): SensorState {
    const { deviceId, stream } = device;
    return sensorStateOf(device, stream ? this.#queue.queuedSamplesOf(deviceId, stream.bootId) : 0);
  }

  #current(connection: Connection): Device | null {
    const device = connection.deviceId === null ? undefined : this.#devices.get(connection.deviceId);
    return device?.connection === connection ? device : null;
  }
}
