/** Bytes on a connection as an attacker would write them: no client library puts them right. */
import { connect, type Socket } from 'node:net';
import { waitUntil } from '../support/wait-until.ts';

export class Wire {
  readonly socket: Socket;
  received = '';
  isClosed = false;

  constructor(url: string) {
    const { hostname, port } = new URL(url);
    this.socket = connect(Number(port), hostname);
    this.socket.on('data', (data) => (this.received += data.toString('latin1')));
    this.socket.on('close', () => (this.isClosed = true));
    this.socket.on('error', () => undefined);
  }

  say(text: string): this {
    this.socket.write(text, 'latin1');
    return this;
  }

  /** Status of the first answer. */
  status(): Promise<number> {
    return waitUntil('an answer comes', () => {
      const [, status] = /^HTTP\/1\.1 (\d{3})/.exec(this.received) ?? [];
      if (status !== undefined) return Number(status);
      if (this.isClosed) throw new Error('closed without an answer');
      return null;
    });
  }

  /** Of all answers so far. */
  get statuses(): number[] {
    return [...this.received.matchAll(/HTTP\/1\.1 (\d{3})/g)].map(([, status]) => Number(status));
  }

  closed(): Promise<true> {
    return waitUntil('the connection is closed', () => this.isClosed || null);
  }
}

/** The head of a request, with what a page of the server would send; a body may follow. */
export function headOf(url: string, method: string, path: string, lines: Record<string, string | number> = {}): string {
  const { host, origin } = new URL(url);
  const all = { host, origin, ...lines };
  const text = Object.entries(all).map(([name, value]) => `${name}: ${value}\r\n`);
  return `${method} ${path} HTTP/1.1\r\n${text.join('')}\r\n`;
}
