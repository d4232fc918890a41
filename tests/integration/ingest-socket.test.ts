/** The timers about one socket, with a socket and a time of the test's own. */
import { EventEmitter } from 'node:events';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { WebSocket } from 'ws';
import { closeCodeOf, decode, encode, type Message } from '@ambipede/firmware-protocol';
import { Ingest } from '../../server/src/ingest/ingest.ts';
import { acceptSensorSocket } from '../../server/src/ingest/ingest-socket.ts';
import { CLOSE_WAIT_MS, HELLO_WAIT_MS, SILENCE_MS, UNREAD_BYTES_MAX } from '../../server/src/ingest/limits.ts';
import { helloOf } from '../support/hello.ts';
import { MemoryLog } from './ingest-fixture.ts';

class FakeSocket extends EventEmitter {
  readonly OPEN = 1;
  readyState = 1;
  bufferedAmount = 0;
  readonly sent: Message[] = [];
  closedWith: number | null = null;
  terminated = false;

  send(frame: Uint8Array): void {
    const decoded = decode(frame);
    if (decoded.ok) this.sent.push(decoded.message);
  }
  close(code: number): void {
    this.closedWith = code;
    this.readyState = 2;
  }
  terminate(): void {
    this.terminated = true;
    this.emit('close', 1006, Buffer.alloc(0));
  }
}

const hello = encode({ ...helloOf('a', 1), rateMilliHz: 100_000 });

let ingest: Ingest;
let socket: FakeSocket;

beforeEach(() => {
  vi.useFakeTimers();
  ingest = new Ingest({
    log: new MemoryLog(),
    admits: () => true,
    onSamples: () => {},
    onStatus: () => {},
    onSensorChange: () => {},
    onProblem: () => {},
    nowUtcMs: () => Date.now(),
  });
  socket = new FakeSocket();
  acceptSensorSocket(socket as unknown as WebSocket, ingest);
});
afterEach(() => {
  socket.terminate();
  vi.useRealTimers();
});

describe('a socket', () => {
  it('is closed when no hello comes, and torn down when it does not answer the close', async () => {
    await vi.advanceTimersByTimeAsync(HELLO_WAIT_MS - 1);
    expect(socket.closedWith).toBeNull();
    await vi.advanceTimersByTimeAsync(1);
    expect(socket.closedWith).toBe(closeCodeOf('hello-late'));
    await vi.advanceTimersByTimeAsync(CLOSE_WAIT_MS);
    expect(socket.terminated).toBe(true);
  });

  it('is asked for the time a few times at once and then every second', async () => {
    socket.emit('message', Buffer.from(hello), true);
    await vi.advanceTimersByTimeAsync(400);
    const early = socket.sent.filter(({ type }) => type === 'timeRequest').length;
    expect(early).toBeGreaterThanOrEqual(5);
    expect(early).toBeLessThanOrEqual(7);
    await vi.advanceTimersByTimeAsync(5000);
    expect(socket.sent.filter(({ type }) => type === 'timeRequest').length - early).toBe(5);
  });

  it('that falls silent is closed, however open TCP says it is', async () => {
    socket.emit('message', Buffer.from(hello), true);
    await vi.advanceTimersByTimeAsync(SILENCE_MS - 1000);
    expect(socket.closedWith).toBeNull();
    expect(ingest.sensorState('a')?.connected).toBe(true);
    await vi.advanceTimersByTimeAsync(2100);
    expect(socket.closedWith).toBe(closeCodeOf('silent'));
    expect(ingest.sensorState('a')?.connected).toBe(false);
  });

  it('that does not read its answers is closed', async () => {
    socket.emit('message', Buffer.from(hello), true);
    socket.bufferedAmount = UNREAD_BYTES_MAX;
    await vi.advanceTimersByTimeAsync(2000);
    expect(socket.closedWith).toBeNull();
    socket.bufferedAmount = UNREAD_BYTES_MAX + 1;
    await vi.advanceTimersByTimeAsync(1000);
    expect(socket.closedWith).toBe(closeCodeOf('too-slow'));
  });

  it('takes a message that comes in fragments', async () => {
    socket.emit('message', [Buffer.from(hello.subarray(0, 5)), Buffer.from(hello.subarray(5))], true);
    await vi.advanceTimersByTimeAsync(10);
    expect(socket.sent[0]).toMatchObject({ type: 'welcome', nextSequence: 0 });
  });
});
