/** A client that says on a real socket whatever a test wants, and notes what comes back. */
import { once } from 'node:events';
import { WebSocket } from 'ws';
import { CHANNELS_ACCEL_GYRO, decode, encode, errorNameOf, type Message } from '@ambipede/firmware-protocol';
import { helloOf } from '../support/hello.ts';
import { waitUntil } from '../support/wait-until.ts';

export const BOOT = 77;

export class RawClient {
  readonly socket: WebSocket;
  readonly received: Message[] = [];
  closeCode: number | null = null;

  constructor(socketUrl: string) {
    this.socket = new WebSocket(`${socketUrl}/ingest`, { perMessageDeflate: false });
    this.socket.on('message', (data) => {
      const decoded = decode(data as Buffer);
      if (decoded.ok) this.received.push(decoded.message);
    });
    this.socket.on('close', (code) => (this.closeCode = code));
    this.socket.on('error', () => undefined);
  }

  async opened(): Promise<this> {
    if (this.socket.readyState !== WebSocket.OPEN) await once(this.socket, 'open');
    return this;
  }

  say(...messages: Message[]): this {
    for (const message of messages) this.socket.send(encode(message));
    return this;
  }

  /** Resolves when the server has let it in. */
  async enter(deviceId: string, token: string): Promise<this> {
    await this.opened();
    this.say(helloOf(deviceId, BOOT, token));
    await waitUntil('the server says welcome', () => this.received.some(({ type }) => type === 'welcome'));
    return this;
  }

  closed(): Promise<number> {
    return waitUntil('the server closes', () => this.closeCode);
  }

  get errors(): string[] {
    return this.received.flatMap((message) => (message.type === 'error' ? [errorNameOf(message.code) ?? '?'] : []));
  }
}

/** Samples of zeros, as a device at rest in free fall would send them. */
export function samplesOf(firstSequence: number, count: number): Message {
  return {
    type: 'samples',
    bootId: BOOT,
    firstSequence,
    oldestSequence: 0,
    firstTickUs: firstSequence * 5000,
    intervalUs: 5000,
    count,
    channels: CHANNELS_ACCEL_GYRO,
    payload: new Uint8Array(count * 12),
  };
}

export function statusOf(tickUs: number): Message {
  return {
    type: 'status',
    bootId: BOOT,
    tickUs,
    batteryPercent: 50,
    temperatureCentiC: 2000,
    bufferedSamples: 0,
    bufferCapacity: 1,
    droppedSamples: 0,
  };
}
