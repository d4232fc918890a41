/** A device in software: measures from a source, keeps what is not acknowledged, and speaks the protocol over a WebSocket. */
import { WebSocket, type RawData } from 'ws';
import { decode } from '../src/decode.ts';
import { encode } from '../src/encode.ts';
import { CLOSE_CODE_BASE, errorNameOf } from '../src/errors.ts';
import { ACCEL_SCALE_MIN, GYRO_SCALE_MIN, SAMPLES_PER_FRAME_MAX } from '../src/layout.ts';
import type { Message, TimeRequestMessage } from '../src/messages.ts';
import { NANO, type Reading } from '../src/sample-payload.ts';
import { hostNowMs, makeDeviceClock, type DeviceClock } from './clock.ts';
import { RingBuffer } from './ring-buffer.ts';

/** `tS`: seconds after the start at which it was measured, where the source knows; rising. Else one slot of the rate each. */
export type SourceReading = Reading & { tS?: number };

export interface VirtualSensorOptions {
  deviceId: string;
  /** ws://host:port/ingest */
  url: string;
  rateHz: number;
  /** Readings at the nominal rate, the first at the start time. null or a value that is no number: nothing was measured. */
  source: Iterable<SourceReading | null>;
  /** Host time (ms UTC, `hostNowMs`) of the first reading; give sensors of one body the same. Default: now. */
  startMs?: number;
  /** Error of the device's crystal, positive is fast. Default 0. */
  skewPpm?: number;
  /** How long the device had been on before the first reading. Default 10 s. */
  bootedS?: number;
  /** Must differ from every earlier one of this device id that the server has stored. Default: random. */
  bootId?: number;
  /** Fixes the spread of the reconnect pauses. Default 1. */
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
  /** Spans of movement time in seconds without radio. */
  radioLoss?: readonly { startS: number; endS: number }[];
}

export interface VirtualSensorState {
  connected: boolean;
  sampled: number;
  acknowledged: number;
  dropped: number;
  connections: number;
  /** What the server, or the network, complained about since the last welcome. */
  problem: string | null;
}

export interface VirtualSensor {
  /** Stops measuring, waits a little for what is not acknowledged, says goodbye. */
  stop(): Promise<VirtualSensorState>;
  /** Resolves when the source has ended and all is acknowledged, after `stop`, or when another took over the id. */
  finished: Promise<VirtualSensorState>;
  state(): VirtualSensorState;
}

const STATUS_EVERY_MS = 3000;
const RECONNECT_MS_MIN = 200;
const RECONNECT_MS_MAX = 5000;
/** Half-open connections are given up after this long without a frame; time requests are due every second. */
const SILENCE_MS = 5000;
/** Frames wait while the socket has this much unsent. */
const UNSENT_BYTES_MAX = 65_536;
/** Half of what the server allows, per second of the host. */
const SAMPLES_PER_SECOND_MAX = 20_000;
const STOP_WAIT_MS = 3000;
const GOODBYE_WAIT_MS = 1000;
const SCALES = { accelScale: ACCEL_SCALE_MIN * NANO, gyroScale: GYRO_SCALE_MIN * NANO };

export function startVirtualSensor(options: VirtualSensorOptions): VirtualSensor {
  return new Device(options);
}

class Device implements VirtualSensor {
  readonly finished: Promise<VirtualSensorState>;
  readonly #options: VirtualSensorOptions;
  readonly #clock: DeviceClock;
  readonly #ring: RingBuffer;
  readonly #readings: Iterator<SourceReading | null>;
  readonly #random: () => number;
  readonly #bootId: number;
  readonly #frameMs: number;
  readonly #frameSamples: number;
  #resolveFinished: (state: VirtualSensorState) => void = () => {};
  #socket: WebSocket | null = null;
  #welcomed = false;
  #sendNext = 0;
  /** Slots of the source used so far; those without a reading count. */
  #slots = 0;
  #following: IteratorResult<SourceReading | null> | null = null;
  #sourceEnded = false;
  #stopByMs = Infinity;
  #over = false;
  #nextStatusMs = 0;
  #reconnectAtMs = 0;
  #reconnectPauseMs = RECONNECT_MS_MIN;
  #lastFrameMs = 0;
  #connections = 0;
  #problem: string | null = null;
  #timer: NodeJS.Timeout;

  constructor(options: VirtualSensorOptions) {
    this.#options = options;
    const { rateHz, skewPpm = 0, speed = 1, frameMs = 40, bufferS = 120 } = options;
    this.#random = makeRandom(options.seed ?? 1);
    this.#bootId = options.bootId ?? Math.floor(Math.random() * 2 ** 32);
    this.#clock = makeDeviceClock(options.startMs ?? hostNowMs(), options.bootedS ?? 10, skewPpm, speed);
    this.#ring = new RingBuffer(Math.ceil(bufferS * rateHz), (1e6 / rateHz) * (1 + skewPpm * 1e-6));
    this.#readings = options.source[Symbol.iterator]();
    this.#frameMs = frameMs / speed;
    this.#frameSamples = Math.max(1, Math.min(SAMPLES_PER_FRAME_MAX, Math.round((frameMs / 1000) * rateHz)));
    this.finished = new Promise((resolve) => {
      this.#resolveFinished = resolve;
    });
    this.#timer = setInterval(() => this.#tick(), Math.max(1, this.#frameMs));
    this.#tick();
  }

  state(): VirtualSensorState {
    return {
      connected: this.#welcomed,
      sampled: this.#ring.next,
      acknowledged: this.#ring.oldest - this.#ring.dropped,
      dropped: this.#ring.dropped,
      connections: this.#connections,
      problem: this.#problem,
    };
  }

  stop(): Promise<VirtualSensorState> {
    this.#sourceEnded = true;
    this.#stopByMs = Math.min(this.#stopByMs, hostNowMs() + STOP_WAIT_MS);
    return this.finished;
  }

  #tick(): void {
    if (this.#over) return;
    const nowMs = hostNowMs();
    this.#measure(nowMs);
    const done = this.#sourceEnded && this.#ring.held === 0;
    if (done || nowMs > this.#stopByMs) return this.#finish();
    if (this.#isRadioLost(nowMs)) this.#socket?.terminate();
    else if (!this.#socket && nowMs >= this.#reconnectAtMs) this.#connect(nowMs);
    if (!this.#welcomed) return;
    if (nowMs - this.#lastFrameMs > SILENCE_MS) {
      this.#problem = `nothing came from the server for ${SILENCE_MS} ms`;
      this.#socket?.terminate();
      return;
    }
    this.#sendFrames();
    if (nowMs >= this.#nextStatusMs) this.#sendStatus(nowMs);
  }

  #measure(nowMs: number): void {
    while (!this.#sourceEnded) {
      this.#following ??= this.#readings.next();
      const { done, value } = this.#following;
      if (done) {
        this.#sourceEnded = true;
        return;
      }
      const measuredMs = this.#clock.hostMsAt(value?.tS ?? this.#slots / this.#options.rateHz);
      if (measuredMs > nowMs) return;
      if (value && isComplete(value)) this.#ring.push(value, this.#clock.tickUsAt(measuredMs), SCALES);
      this.#slots += 1;
      this.#following = null;
    }
  }

  #sendFrames(): void {
    let allowance = Math.max(this.#frameSamples, (SAMPLES_PER_SECOND_MAX * this.#frameMs) / 1000);
    while (allowance > 0 && (this.#socket?.bufferedAmount ?? 0) < UNSENT_BYTES_MAX) {
      this.#sendNext = Math.max(this.#sendNext, this.#ring.oldest);
      const waiting = this.#ring.next - this.#sendNext;
      // A whole frame at a time, large ones to catch up, a short one only at the end.
      if (waiting < this.#frameSamples && !this.#sourceEnded) return;
      const countMax = waiting > 2 * this.#frameSamples ? SAMPLES_PER_FRAME_MAX : this.#frameSamples;
      const run = this.#ring.run(this.#sendNext, countMax);
      if (!run) return;
      this.#send({ type: 'samples', bootId: this.#bootId, oldestSequence: this.#ring.oldest, ...run });
      this.#sendNext += run.count;
      allowance -= run.count;
    }
  }

  #sendStatus(nowMs: number): void {
    this.#nextStatusMs = nowMs + STATUS_EVERY_MS;
    const hours = Math.max(0, this.#clock.movementSAt(nowMs)) / 3600;
    this.#send({
      type: 'status',
      bootId: this.#bootId,
      tickUs: this.#clock.tickUsAt(nowMs),
      batteryPercent: Math.max(0, Math.round(92 - 8 * hours)),
      temperatureCentiC: 3150,
      bufferedSamples: this.#ring.held,
      bufferCapacity: this.#ring.capacity,
      droppedSamples: this.#ring.dropped,
    });
  }

  #connect(nowMs: number): void {
    const socket = new WebSocket(this.#options.url, { perMessageDeflate: false, handshakeTimeout: SILENCE_MS });
    this.#socket = socket;
    this.#lastFrameMs = nowMs;
    socket.on('open', () => {
      const { deviceId, rateHz } = this.#options;
      this.#connections += 1;
      this.#send({
        type: 'hello',
        deviceId,
        token: new Uint8Array(0),
        bootId: this.#bootId,
        rateMilliHz: Math.round(rateHz * 1000),
        accelScale: ACCEL_SCALE_MIN,
        gyroScale: GYRO_SCALE_MIN,
      });
    });
    socket.on('message', (data: RawData) => this.#take(data as Buffer));
    socket.on('error', (error) => {
      this.#problem = error.message;
    });
    socket.on('close', (code) => this.#onClose(socket, code));
  }

  #onClose(socket: WebSocket, code: number): void {
    if (socket !== this.#socket) return;
    this.#socket = null;
    this.#welcomed = false;
    if (this.#over) return;
    const name = code > CLOSE_CODE_BASE ? errorNameOf(code) : null;
    if (name === 'replaced') {
      this.#problem = `another device connected as ${this.#options.deviceId}`;
      return this.#finish();
    }
    // Full spread, so that devices that lost the same server do not come back at the same moment.
    this.#reconnectAtMs = hostNowMs() + this.#random() * this.#reconnectPauseMs;
    this.#reconnectPauseMs = Math.min(RECONNECT_MS_MAX, this.#reconnectPauseMs * 2);
  }

  #take(data: Uint8Array): void {
    this.#lastFrameMs = hostNowMs();
    const decoded = decode(data);
    if (!decoded.ok) {
      this.#problem = `the server sent a bad frame: ${decoded.error.text}`;
      return;
    }
    const { message } = decoded;
    if (message.type === 'timeRequest') this.#answer(message);
    else if (message.type === 'welcome') this.#onWelcome(message.nextSequence);
    else if (message.type === 'acknowledgement') this.#ring.release(message.nextSequence);
    else if (message.type === 'error') {
      const name = errorNameOf(message.code) ?? `error ${message.code}`;
      this.#problem = `${name}: ${message.text}`;
    }
  }

  #onWelcome(nextSequence: number): void {
    if (nextSequence > this.#ring.next) {
      this.#problem = 'the server has more of this boot than was measured: the boot id was used before';
      return this.#finish();
    }
    this.#ring.release(nextSequence);
    this.#sendNext = this.#ring.oldest;
    this.#welcomed = true;
    this.#problem = null;
    this.#reconnectPauseMs = RECONNECT_MS_MIN;
    this.#nextStatusMs = 0;
  }

  #answer({ exchangeId, serverUtcUs }: TimeRequestMessage): void {
    const receiveTickUs = this.#clock.tickUsAt(this.#lastFrameMs);
    const transmitTickUs = this.#clock.tickUsAt(hostNowMs());
    this.#send({ type: 'timeResponse', exchangeId, serverUtcUs, receiveTickUs, transmitTickUs });
  }

  #isRadioLost(nowMs: number): boolean {
    const atS = this.#clock.movementSAt(nowMs);
    return this.#options.radioLoss?.some(({ startS, endS }) => atS >= startS && atS < endS) ?? false;
  }

  #finish(): void {
    if (this.#over) return;
    const state = this.state();
    this.#over = true;
    clearInterval(this.#timer);
    const socket = this.#socket;
    if (!socket) return this.#resolveFinished(state);
    const giveUp = setTimeout(() => socket.terminate(), GOODBYE_WAIT_MS);
    socket.on('close', () => {
      clearTimeout(giveUp);
      this.#resolveFinished(state);
    });
    // The server answers goodbye with a close.
    if (this.#welcomed) this.#send({ type: 'goodbye', bootId: this.#bootId, reason: 1 });
    else socket.terminate();
  }

  #send(message: Message): void {
    if (this.#socket?.readyState === WebSocket.OPEN) this.#socket.send(encode(message));
  }
}

function isComplete({ ax, ay, az, gx, gy, gz }: Reading): boolean {
  return Number.isFinite(ax + ay + az + gx + gy + gz);
}

/** Small seeded generator (xorshift32, Marsaglia 2003), uniform in [0, 1). */
function makeRandom(seed: number): () => number {
  let state = (seed ^ 0x9e3779b9) >>> 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return state / 2 ** 32;
  };
}
