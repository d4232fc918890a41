/**
 * Clients that are broken or mean, on real sockets: each gets its answer and is cut off as SPEC.md says, while two sensors
 * stream on undisturbed.
 */
import { readFileSync } from 'node:fs';
import { connect } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  FRAME_BYTES_MAX,
  PROTOCOL_ERRORS,
  closeCodeOf,
  encode,
  type ProtocolErrorName,
} from '@ambipede/firmware-protocol';
import { CLOSE_WAIT_MS, HELLO_WAIT_MS } from '../../server/src/ingest/limits.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';
import { BOOT, RawClient, samplesOf, statusOf } from './raw-client.ts';
import { startRig, type Rig } from './rig.ts';

const VECTORS = new URL('../../firmware-protocol/vectors/malformed.json', import.meta.url);
/** Of the WebSocket protocol (RFC 6455, 7.4.1). */
const CLOSE_TOO_BIG = 1009;
const SLOW_CLIENTS = 40;
/** Among which the malformed frames are shared out. */
const DEVICES = 12;

let server: TestPostgres;
let rig: Rig;
beforeAll(async () => {
  server = await startTestPostgres();
  rig = await startRig(await server.newDatabase());
});
afterAll(async () => {
  await rig?.close();
  await server?.stop();
});

const enter = async (deviceId: string): Promise<RawClient> =>
  new RawClient(rig.api.socketUrl).enter(deviceId, await rig.api.enrol(deviceId));

describe('a frame that is damaged', () => {
  const vectors = JSON.parse(readFileSync(VECTORS, 'utf8')) as {
    name: string;
    hex: string;
    error: ProtocolErrorName;
  }[];

  /** What is said about a frame that is not one, and how the connection ends: 1000 only after a goodbye that was heard. */
  async function outcomeOf(
    frame: Buffer,
    deviceId: string,
    token: string,
  ): Promise<{ errors: string[]; closeCode: number }> {
    const client = await new RawClient(rig.api.socketUrl).enter(deviceId, token);
    client.socket.send(frame);
    client.say({ type: 'goodbye', bootId: BOOT, reason: 0 });
    const closeCode = await client.closed();
    return { errors: client.errors, closeCode };
  }

  function expectedOf(frame: Buffer, error: ProtocolErrorName): { errors: string[]; closeCode: number } {
    if (frame.length > FRAME_BYTES_MAX) return { errors: [], closeCode: CLOSE_TOO_BIG };
    return { errors: [error], closeCode: PROTOCOL_ERRORS[error].connection === 'kept' ? 1000 : closeCodeOf(error) };
  }

  test('in any of the ways of the vectors is answered, and the connection is kept or closed as said', async () => {
    expect(vectors.length).toBeGreaterThan(50);
    const outcomes: { name: string; is: object; expected: object }[] = [];
    const device = async (k: number): Promise<void> => {
      const token = await rig.api.enrol(`damaged-${k}`);
      for (const { name, hex, error } of vectors.filter((_, i) => i % DEVICES === k)) {
        const frame = Buffer.from(hex, 'hex');
        outcomes.push({ name, is: await outcomeOf(frame, `damaged-${k}`, token), expected: expectedOf(frame, error) });
      }
    };
    await Promise.all(Array.from({ length: DEVICES }, (_, k) => device(k)));
    expect(outcomes).toHaveLength(vectors.length);
    expect(outcomes.map(({ name, is }) => ({ name, ...is }))).toEqual(
      outcomes.map(({ name, expected }) => ({ name, ...expected })),
    );
  });

  test('by one bit on the way is answered with crc-mismatch, and nothing of it is taken', async () => {
    const client = await enter('damaged');
    const frame = encode(samplesOf(0, 20));
    frame[60] = (frame[60] ?? 0) ^ 4;
    client.socket.send(frame);
    expect(await client.closed()).toBe(closeCodeOf('crc-mismatch'));
    const again = await enter('damaged');
    expect(again.received[0]).toMatchObject({ type: 'welcome', nextSequence: 0 });
    again.socket.terminate();
  });

  test('by ending early with the socket is no frame, and the next connection begins where the last was', async () => {
    const client = await enter('damaged');
    const frame = encode(samplesOf(0, 20));
    // A binary message that says it has all bytes (RFC 6455, 5.2: masked, 16-bit length), and then breaks off.
    const header = Buffer.from([0x82, 0x80 | 126, frame.length >> 8, frame.length & 0xff, 0, 0, 0, 0]);
    const raw = (client.socket as unknown as { _socket: import('node:net').Socket })._socket;
    raw.write(Buffer.concat([header, frame.subarray(0, 100)]));
    await sleep(50);
    raw.destroy();
    await client.closed();
    const again = await enter('damaged');
    expect(again.received[0]).toMatchObject({ type: 'welcome', nextSequence: 0 });
    again.socket.terminate();
  });
});

describe.concurrent('a client that', () => {
  test(
    'never says hello is cut off, however many there are',
    async () => {
      const silent = await Promise.all(
        Array.from({ length: SLOW_CLIENTS }, () => new RawClient(rig.api.socketUrl).opened()),
      );
      // These do not even get as far as a WebSocket.
      const { hostname, port } = new URL(rig.api.url);
      const halves = Array.from({ length: SLOW_CLIENTS }, () => {
        const socket = connect(Number(port), hostname);
        socket.on('error', () => undefined);
        socket.write('GET /ingest HTTP/1.1\r\nHost: x\r\nUpgr');
        return socket;
      });
      const codes = await Promise.all(silent.map((client) => client.closed()));
      expect(new Set(codes)).toEqual(new Set([closeCodeOf('hello-late')]));
      expect((await fetch(`${rig.api.url}/healthz`)).status).toBe(200);
      for (const socket of halves) socket.destroy();
    },
    HELLO_WAIT_MS + 20_000,
  );

  test('floods the server with tiny frames is cut off as too fast', async () => {
    const client = await enter('flood');
    for (let i = 0; i < 40_000 && client.closeCode === null; i++) {
      client.say(statusOf(i));
      if (i % 1000 === 0) await sleep(1);
    }
    expect(await client.closed()).toBe(closeCodeOf('too-fast'));
    expect(client.errors).toEqual(['too-fast']);
  });

  test('stops reading is cut off once its samples have no time, and its socket does not linger', async () => {
    const client = await enter('deaf');
    client.socket.pause();
    for (let i = 0; i < 45; i++) client.say(samplesOf(i * 100, 100));
    const cutOff = () => rig.api.log.some((line) => line.includes('"deaf"') && line.includes('time-missing'));
    await waitUntil('it is cut off', cutOff);
    await sleep(CLOSE_WAIT_MS + 500);
    client.socket.resume();
    await client.closed();
  });

  test('takes the id of a connected one replaces it; the newer connection stays', async () => {
    const token = await rig.api.enrol('twin');
    const older = await new RawClient(rig.api.socketUrl).enter('twin', token);
    const newer = await new RawClient(rig.api.socketUrl).enter('twin', token);
    expect(await older.closed()).toBe(closeCodeOf('replaced'));
    newer.say({ type: 'goodbye', bootId: BOOT, reason: 0 });
    expect(await newer.closed()).toBe(1000);
  });
});

describe('the two sensors beside all that', () => {
  test('were never disconnected and lost nothing', async () => {
    await rig.caughtUp();
    expect(Object.values(rig.sensors).map((each) => each.state().connections)).toEqual([1, 1]);
    const { lost, acknowledged } = await rig.finish('hostile clients', 1);
    expect(lost).toBe(0);
    expect(acknowledged).toBeGreaterThan(1000);
  });
});
