/** A device at the door: says hello with a token and tells what became of it. */
import { WebSocket } from 'ws';
import { decode, encode, type Message } from '@ambipede/firmware-protocol';
import { helloOf } from './hello.ts';
import { waitUntil } from './wait-until.ts';

export interface Knock {
  messages: Message[];
  /** Null while open. */
  closed: number | null;
  /** Resolves when the server has let it in, or has closed. */
  answered(): Promise<'welcome' | number>;
  leave(): void;
}

/** @param ca that signed the server's certificate, PEM */
export function knock(socketUrl: string, deviceId: string, token = '', bootId = 1, ca?: Buffer): Knock {
  const socket = new WebSocket(`${socketUrl}/ingest`, { ca });
  const device: Knock = {
    messages: [],
    closed: null,
    answered: () =>
      waitUntil('the server answers', () => {
        if (device.closed !== null) return device.closed;
        return device.messages.some(({ type }) => type === 'welcome') ? 'welcome' : null;
      }),
    leave: () => socket.terminate(),
  };
  socket.on('open', () => socket.send(encode(helloOf(deviceId, bootId, token))));
  socket.on('message', (data) => {
    const decoded = decode(data as Buffer);
    if (decoded.ok) device.messages.push(decoded.message);
  });
  socket.on('close', (code) => (device.closed = code));
  socket.on('error', () => undefined);
  return device;
}
