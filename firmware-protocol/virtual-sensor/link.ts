/** One WebSocket of a device through its radio: what is said and heard may come late, or never. */
import { WebSocket, type RawData } from 'ws';
import { encode } from '../src/encode.ts';
import type { Message } from '../src/messages.ts';
import { SERVER_SILENCE_MS } from '../src/rules.ts';
import { hostNowMs } from './clock.ts';
import { DelayLine } from './delay-line.ts';
import type { Radio } from './radio.ts';

export interface LinkEvents {
  onOpen(): void;
  onFrame(frame: Uint8Array): void;
  onProblem(text: string): void;
  /** Once; not after `abandon`. `code` as in RFC 6455. */
  onClose(code: number): void;
}

/** RFC 6455, 7.4.1. */
const CLOSED_WITHOUT_HANDSHAKE = 1006;

export class Link {
  readonly #socket: WebSocket;
  readonly #radio: Radio;
  readonly #events: LinkEvents;
  readonly #out = new DelayLine();
  readonly #in = new DelayLine();
  #abandoned = false;
  #broken = false;

  constructor(url: string, radio: Radio, events: LinkEvents) {
    this.#radio = radio;
    this.#events = events;
    const socket = new WebSocket(url, { perMessageDeflate: false, handshakeTimeout: SERVER_SILENCE_MS });
    this.#socket = socket;
    const later = (bytes: number, event: () => void): void => {
      if (!this.#abandoned) this.#in.push(radio.arrivalMs(hostNowMs()), bytes, event);
    };
    socket.on('open', () => later(0, () => events.onOpen()));
    socket.on('message', (data: RawData) => {
      const frame = data as Buffer;
      later(frame.length, () => events.onFrame(frame));
    });
    socket.on('error', (error) => !this.#abandoned && events.onProblem(error.message));
    socket.on('close', (code) => {
      // A break that the device itself made is known at once.
      if (this.#broken && !this.#abandoned) return events.onClose(code);
      later(0, () => {
        this.#out.clear();
        events.onClose(code);
      });
    });
  }

  /** Bytes that wait in the device because the connection does not take them. */
  get unsentBytes(): number {
    return this.#out.waitingBytes + this.#socket.bufferedAmount;
  }

  send(message: Message): void {
    const frame = encode(message);
    this.#out.push(this.#radio.arrivalMs(hostNowMs()), frame.length, () => {
      if (this.#socket.readyState === WebSocket.OPEN) this.#socket.send(frame);
    });
  }

  /** Breaks the connection without a closing handshake; `onClose` follows. */
  break(): void {
    this.#broken = true;
    this.#out.clear();
    this.#in.clear();
    if (this.#socket.readyState === WebSocket.CLOSED) this.#events.onClose(CLOSED_WITHOUT_HANDSHAKE);
    else this.#socket.terminate();
  }

  close(code: number): void {
    this.#socket.close(code);
  }

  /** The device forgets the connection; the server is not told, and nobody reads any more what it says. */
  abandon(): void {
    this.#abandoned = true;
    this.#out.clear();
    this.#in.clear();
    if (this.#socket.readyState === WebSocket.OPEN) this.#socket.pause();
    else this.#socket.terminate();
  }

  /** Ends what `abandon` left. */
  dispose(): void {
    this.#abandoned = true;
    this.#socket.terminate();
  }
}
