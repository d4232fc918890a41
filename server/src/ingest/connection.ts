/**
 * The protocol of one socket (SPEC.md, state machine), without the socket: frames in, frames and a close out.
 *
 *   waiting --hello--> opening --(the log says where the stream ends)--> streaming --goodbye or error--> closed
 */
import {
  LAYOUTS,
  PROTOCOL_ERRORS,
  closeCodeOf,
  decode,
  encode,
  type HelloMessage,
  type Message,
  type ProtocolError,
  type ProtocolErrorName,
  type SamplesMessage,
  type StatusMessage,
} from '@ambipede/firmware-protocol';
import type { Exchange } from './clock.ts';
import { ALLOWANCE_BURST, ALLOWANCE_PER_SECOND, FRAME_COST, KEPT_ERRORS_MAX } from './limits.ts';

/** The first requests come close together, so that times are known soon. */
export const FAST_REQUESTS = 6;
export const FAST_REQUEST_MS = 40;
export const REQUEST_MS = 1000;
/** Requests without an answer that are remembered. */
const REQUESTS_OPEN_MAX = 16;

/** Where the frames go. `close` is called once. */
export interface ConnectionPort {
  send(frame: Uint8Array): void;
  close(code: number, reason: string): void;
}

/** What the connection is part of. All calls are synchronous; `onHello` answers later through `welcome`. */
export interface ConnectionOwner {
  nowUtcMs(): number;
  onHello(connection: Connection, hello: HelloMessage): void;
  onSamples(connection: Connection, message: SamplesMessage): void;
  onStatus(connection: Connection, message: StatusMessage): void;
  onExchange(connection: Connection, exchange: Exchange): void;
  onGoodbye(connection: Connection): void;
  /** Every error that this connection was told about. */
  onProtocolError(connection: Connection, error: ProtocolError): void;
}

export class Connection {
  phase: 'waiting' | 'opening' | 'streaming' | 'closed' = 'waiting';
  deviceId: string | null = null;
  bootId: number | null = null;
  lastFrameUtcMs: number;
  readonly #port: ConnectionPort;
  readonly #owner: ConnectionOwner;
  readonly #requests = new Map<number, number>();
  #nextExchangeId = 1;
  #allowance = ALLOWANCE_BURST;
  #allowanceUtcMs: number;
  #keptErrors = 0;

  constructor(port: ConnectionPort, owner: ConnectionOwner) {
    this.#port = port;
    this.#owner = owner;
    this.lastFrameUtcMs = owner.nowUtcMs();
    this.#allowanceUtcMs = this.lastFrameUtcMs;
  }

  takeFrame(data: Uint8Array, isBinary: boolean): void {
    if (this.phase === 'closed') return;
    const nowUtcMs = this.#owner.nowUtcMs();
    this.lastFrameUtcMs = nowUtcMs;
    if (!isBinary) return this.fail('not-binary', 'A text message came; frames are binary messages.');
    const decoded = decode(data);
    const cost = FRAME_COST + (decoded.ok && decoded.message.type === 'samples' ? decoded.message.count : 0);
    if (!this.#mayCost(cost, nowUtcMs)) {
      return this.fail(
        'too-fast',
        `More than ${ALLOWANCE_PER_SECOND} samples a second, counting each frame as ${FRAME_COST}.`,
      );
    }
    if (!decoded.ok) return this.fail(decoded.error.name, decoded.error.text);
    this.#take(decoded.message, nowUtcMs);
  }

  /** The answer to hello. */
  welcome(nextSequence: number): void {
    if (this.phase !== 'opening' || this.bootId === null) return;
    this.phase = 'streaming';
    this.#send({ type: 'welcome', bootId: this.bootId, nextSequence });
  }

  acknowledge(nextSequence: number): void {
    if (this.phase !== 'streaming' || this.bootId === null) return;
    this.#send({ type: 'acknowledgement', bootId: this.bootId, nextSequence });
  }

  /** Sends a time request; returns in how many ms the next one is due. */
  requestTime(): number {
    if (this.phase !== 'streaming') return FAST_REQUEST_MS;
    const exchangeId = this.#nextExchangeId++;
    const serverUtcUs = Math.round(this.#owner.nowUtcMs() * 1000);
    this.#requests.set(exchangeId, serverUtcUs);
    const oldest = this.#requests.keys().next().value;
    if (this.#requests.size > REQUESTS_OPEN_MAX && oldest !== undefined) this.#requests.delete(oldest);
    this.#send({ type: 'timeRequest', exchangeId, serverUtcUs });
    return exchangeId < FAST_REQUESTS ? FAST_REQUEST_MS : REQUEST_MS;
  }

  /** Tells the device what is wrong and, as the catalogue says, closes. */
  fail(name: ProtocolErrorName, text: string): void {
    if (this.phase === 'closed') return;
    this.#owner.onProtocolError(this, { name, text });
    this.#send({ type: 'error', code: PROTOCOL_ERRORS[name].code, text });
    if (PROTOCOL_ERRORS[name].connection === 'closed') return this.end(closeCodeOf(name), name);
    this.#keptErrors += 1;
    if (this.#keptErrors > KEPT_ERRORS_MAX) this.fail('too-many-errors', `More than ${KEPT_ERRORS_MAX} errors.`);
  }

  end(code: number, reason: string): void {
    if (this.phase === 'closed') return;
    this.phase = 'closed';
    this.#port.close(code, reason);
  }

  #take(message: Message, nowUtcMs: number): void {
    if (LAYOUTS[message.type].from === 'server') {
      return this.fail('wrong-direction', `Only the server sends ${message.type} frames.`);
    }
    if (message.type === 'hello') {
      if (this.phase !== 'waiting')
        return this.fail('hello-repeated', 'Hello was said before: open a new connection for it.');
      this.phase = 'opening';
      this.deviceId = message.deviceId;
      this.bootId = message.bootId;
      return this.#owner.onHello(this, message);
    }
    if (this.phase === 'waiting')
      return this.fail('hello-expected', `The first frame must be hello, not ${message.type}.`);
    if (this.phase === 'opening') return this.fail('welcome-pending', 'Wait for welcome before sending.');
    if ('bootId' in message && message.bootId !== this.bootId) {
      return this.fail('wrong-boot', `Boot ${message.bootId} in a connection opened for boot ${this.bootId}.`);
    }
    if (message.type === 'samples') this.#owner.onSamples(this, message);
    else if (message.type === 'status') this.#owner.onStatus(this, message);
    else if (message.type === 'goodbye') this.#owner.onGoodbye(this);
    else if (message.type === 'timeResponse') {
      const { exchangeId, serverUtcUs, receiveTickUs, transmitTickUs } = message;
      if (this.#requests.get(exchangeId) !== serverUtcUs || transmitTickUs < receiveTickUs) {
        return this.fail(
          'unknown-exchange',
          `Time exchange ${exchangeId} is not open, or its times are not those asked for.`,
        );
      }
      this.#requests.delete(exchangeId);
      this.#owner.onExchange(this, {
        t1UtcMs: serverUtcUs / 1000,
        t2TickUs: receiveTickUs,
        t3TickUs: transmitTickUs,
        t4UtcMs: nowUtcMs,
      });
    }
  }

  #mayCost(cost: number, nowUtcMs: number): boolean {
    const refill = ((nowUtcMs - this.#allowanceUtcMs) / 1000) * ALLOWANCE_PER_SECOND;
    this.#allowance = Math.min(ALLOWANCE_BURST, this.#allowance + Math.max(0, refill)) - cost;
    this.#allowanceUtcMs = nowUtcMs;
    return this.#allowance >= 0;
  }

  #send(message: Message): void {
    this.#port.send(encode(message));
  }
}
