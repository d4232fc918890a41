/** One connection of a device, for one boot: hello, welcome, samples, acknowledgements, time (SPEC.md, section 3). */
import { decode } from '../src/decode.ts';
import { CLOSE_CODE_BASE, errorNameOf, type ProtocolErrorName } from '../src/errors.ts';
import {
  ACCEL_SCALE_MIN,
  CHANNELS_ACCEL_GYRO,
  GYRO_SCALE_MIN,
  MAGN_SCALE_NONE,
  SAMPLES_PER_FRAME_MAX,
} from '../src/layout.ts';
import type { AcknowledgementMessage, TimeRequestMessage } from '../src/messages.ts';
import { SERVER_SILENCE_MS } from '../src/rules.ts';
import type { Boot } from './boot.ts';
import { hostNowMs } from './clock.ts';
import { Link } from './link.ts';
import type { VirtualSensorOptions } from './options.ts';
import type { Radio } from './radio.ts';

const STATUS_EVERY_MS = 3000;
/** Frames wait while the connection has this much unsent. */
const UNSENT_BYTES_MAX = 65_536;
/** RFC 6455, 7.4.1: the other side broke the protocol. */
const CLOSE_PROTOCOL_BROKEN = 1002;
const GOODBYE_SWITCHED_OFF = 1;

export interface ConversationOwner {
  onOpen(): void;
  onWelcome(): void;
  onProblem(text: string): void;
  /** The server holds samples of this boot id that this device has not measured. */
  onBootIdTaken(): void;
  /** `name`: the error of the close, or of the last error frame before it. */
  onClose(name: ProtocolErrorName | null): void;
}

export class Conversation {
  welcomed = false;
  readonly #options: VirtualSensorOptions;
  readonly #boot: Boot;
  readonly #frameSamples: number;
  readonly #owner: ConversationOwner;
  readonly #link: Link;
  #sendNext = 0;
  #nextStatusMs = 0;
  #lastFrameMs = hostNowMs();
  #errorName: ProtocolErrorName | null = null;

  constructor(options: VirtualSensorOptions, boot: Boot, radio: Radio, frameSamples: number, owner: ConversationOwner) {
    this.#options = options;
    this.#boot = boot;
    this.#frameSamples = frameSamples;
    this.#owner = owner;
    this.#link = new Link(options.url, radio, {
      onOpen: () => this.#sayHello(),
      onFrame: (frame) => this.#take(frame),
      onProblem: (text) => owner.onProblem(text),
      onClose: (code) => {
        this.welcomed = false;
        owner.onClose((code > CLOSE_CODE_BASE ? errorNameOf(code) : null) ?? this.#errorName);
      },
    });
  }

  /** Nothing came for so long that the connection must be dead. */
  isSilent(nowMs: number): boolean {
    return nowMs - this.#lastFrameMs > SERVER_SILENCE_MS;
  }

  /** Sends what is due: at most `samplesMax` samples, and all that is left when `ending`. */
  say(nowMs: number, samplesMax: number, ending: boolean): void {
    if (!this.welcomed) return;
    this.#sendSamples(samplesMax, ending);
    if (nowMs >= this.#nextStatusMs) this.#sendStatus(nowMs);
  }

  /** The server answers goodbye with a close. False when it cannot be said. */
  sayGoodbye(): boolean {
    if (this.welcomed) this.#link.send({ type: 'goodbye', bootId: this.#boot.id, reason: GOODBYE_SWITCHED_OFF });
    return this.welcomed;
  }

  /** Breaks the connection; `onClose` follows. */
  break(): void {
    this.#link.break();
  }

  /** Forgets the connection without telling the server; nothing follows. */
  abandon(): void {
    this.welcomed = false;
    this.#link.abandon();
  }

  /** Frees what an abandoned connection still holds. */
  dispose(): void {
    this.#link.dispose();
  }

  #sayHello(): void {
    const { deviceId, rateHz, token = '' } = this.#options;
    this.#owner.onOpen();
    this.#link.send({
      type: 'hello',
      deviceId,
      token: new TextEncoder().encode(token),
      bootId: this.#boot.id,
      rateMilliHz: Math.round(rateHz * 1000),
      accelScale: ACCEL_SCALE_MIN,
      gyroScale: GYRO_SCALE_MIN,
      magnScale: MAGN_SCALE_NONE,
      channels: CHANNELS_ACCEL_GYRO,
    });
  }

  #take(frame: Uint8Array): void {
    this.#lastFrameMs = hostNowMs();
    const decoded = decode(frame);
    if (!decoded.ok) {
      if (decoded.error.name === 'unknown-type') return;
      this.#owner.onProblem(`the server sent a bad frame: ${decoded.error.text}`);
      return this.#link.close(CLOSE_PROTOCOL_BROKEN);
    }
    const { message } = decoded;
    if (message.type === 'timeRequest') this.#answer(message);
    else if (message.type === 'welcome') this.#onWelcome(message.nextSequence);
    else if (message.type === 'acknowledgement') this.#release(message);
    else if (message.type === 'error') {
      this.#errorName = errorNameOf(message.code);
      this.#owner.onProblem(`${this.#errorName ?? `error ${message.code}`}: ${message.text}`);
    }
  }

  #onWelcome(nextSequence: number): void {
    const { ring } = this.#boot;
    if (nextSequence > ring.next) return this.#owner.onBootIdTaken();
    ring.release(nextSequence);
    this.#sendNext = ring.oldest;
    this.welcomed = true;
    this.#owner.onWelcome();
  }

  #release({ bootId, nextSequence }: AcknowledgementMessage): void {
    const { id, ring } = this.#boot;
    if (bootId === id && nextSequence <= ring.next) ring.release(nextSequence);
  }

  #answer({ exchangeId, serverUtcUs }: TimeRequestMessage): void {
    const receiveTickUs = this.#boot.tickUsAt(this.#lastFrameMs);
    const transmitTickUs = this.#boot.tickUsAt(hostNowMs());
    this.#link.send({ type: 'timeResponse', exchangeId, serverUtcUs, receiveTickUs, transmitTickUs });
  }

  #sendSamples(samplesMax: number, ending: boolean): void {
    const { ring, id } = this.#boot;
    let allowance = Math.max(this.#frameSamples, samplesMax);
    while (allowance > 0 && this.#link.unsentBytes < UNSENT_BYTES_MAX) {
      this.#sendNext = Math.max(this.#sendNext, ring.oldest);
      const waiting = ring.next - this.#sendNext;
      // A whole frame at a time, large ones to catch up, a short one only at the end.
      if (waiting < this.#frameSamples && !ending) return;
      const countMax = waiting > 2 * this.#frameSamples ? SAMPLES_PER_FRAME_MAX : this.#frameSamples;
      const run = ring.run(this.#sendNext, countMax);
      if (!run) return;
      this.#link.send({ type: 'samples', bootId: id, oldestSequence: ring.oldest, ...run });
      this.#sendNext += run.count;
      allowance -= run.count;
    }
  }

  #sendStatus(nowMs: number): void {
    this.#nextStatusMs = nowMs + STATUS_EVERY_MS;
    const { id, ring } = this.#boot;
    const tickUs = this.#boot.tickUsAt(nowMs);
    this.#link.send({
      type: 'status',
      bootId: id,
      tickUs,
      batteryPercent: Math.max(0, Math.round(92 - (8 * tickUs) / 3.6e9)),
      temperatureCentiC: 3150,
      bufferedSamples: ring.held,
      bufferCapacity: ring.capacity,
      droppedSamples: ring.dropped,
    });
  }
}
