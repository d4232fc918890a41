import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { WebSocketServer } from 'ws';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { LIVE_CLOSE, type LiveMessage } from '@ambipede/shared';
import { ANGLES_UNSENT_BYTES_MAX, LiveFanout, UNSENT_BYTES_MAX } from '../../server/src/live/live-fanout.ts';
import type { Viewer } from '../../server/src/live/live-fanout.ts';
import { LIVE_SOCKET_OPTIONS, acceptViewerSocket } from '../../server/src/live/live-socket.ts';
import { watchLive } from '../support/live-viewer.ts';
import { waitUntil } from '../support/wait-until.ts';

const ATHLETE = 'athlete';
const angles: LiveMessage = { type: 'angles', utcMs: [1], pelvicObliquityDeg: [0], trunkLateralTiltDeg: [null] };
const heartbeat: LiveMessage = { type: 'heartbeat', serverUtcMs: 1 };

function fakeViewer(bufferedAmount: number, isBehind = false) {
  const got: string[] = [];
  const viewer: Viewer & { got: string[]; bufferedAmount: number } = {
    bufferedAmount,
    isBehind,
    got,
    send: (text) => void got.push((JSON.parse(text) as LiveMessage).type),
    cutOff: (code) => void got.push(`cut off ${code}`),
  };
  return viewer;
}

describe('the fan-out', () => {
  test.each([
    [0, ['angles', 'heartbeat']],
    [ANGLES_UNSENT_BYTES_MAX, ['angles', 'heartbeat']],
    [ANGLES_UNSENT_BYTES_MAX + 1, ['heartbeat']],
    [UNSENT_BYTES_MAX, ['heartbeat']],
    [UNSENT_BYTES_MAX + 1, ['cut off 4408', 'cut off 4408']],
  ])('with %i unsent bytes gives a viewer %j', (unsent, expected) => {
    const fanout = new LiveFanout();
    const viewer = fakeViewer(unsent);
    fanout.subscribe(ATHLETE, viewer);
    fanout.publish(ATHLETE, angles);
    fanout.publishToAll(heartbeat);
    expect(viewer.got).toEqual(expected);
  });

  test('cuts off a viewer that is behind, however little has not left this process', () => {
    const fanout = new LiveFanout();
    const viewer = fakeViewer(0, true);
    fanout.subscribe(ATHLETE, viewer);
    fanout.publishToAll(heartbeat);
    expect(viewer.got).toEqual(['cut off 4408']);
  });

  test('gives the others everything while one is slow', () => {
    const fanout = new LiveFanout();
    const [slow, quick] = [fakeViewer(UNSENT_BYTES_MAX + 1), fakeViewer(0)];
    fanout.subscribe(ATHLETE, slow);
    fanout.subscribe(ATHLETE, quick);
    fanout.publish(ATHLETE, angles);
    expect(quick.got).toEqual(['angles']);
  });

  test('forgets who has left, however often it is told', () => {
    const fanout = new LiveFanout();
    const leave = fanout.subscribe(ATHLETE, fakeViewer(0));
    fanout.subscribe(ATHLETE, fakeViewer(0));
    leave();
    leave();
    expect([fanout.viewerCount, fanout.hasViewers(ATHLETE)]).toEqual([1, true]);
  });
});

/** A live socket of its own for a group of tests. */
function useLiveSocket(limits: { pingEveryMs?: number; pongWaitMsMax?: number } = {}) {
  const fanout = new LiveFanout();
  const http = createServer();
  const sockets = new WebSocketServer({ server: http, ...LIVE_SOCKET_OPTIONS });
  sockets.on('connection', (socket) =>
    acceptViewerSocket(
      socket,
      { athleteId: ATHLETE, stillHolds: async () => true },
      {
        fanout,
        snapshot: () => [heartbeat],
        ...limits,
      },
    ),
  );
  beforeAll(() => new Promise<void>((resolve) => http.listen(0, '127.0.0.1', resolve)));
  afterAll(() => {
    for (const socket of sockets.clients) socket.terminate();
    http.close();
  });
  return { fanout, watch: () => watchLive(`ws://127.0.0.1:${(http.address() as AddressInfo).port}`, ATHLETE) };
}

describe('a real viewer that does not read', () => {
  const { fanout, watch } = useLiveSocket();

  test('is cut off with a code, and one that reads gets every message', async () => {
    const [slow, quick] = [watch(), watch()];
    await Promise.all([slow.next('heartbeat'), quick.next('heartbeat')]);
    slow.socket.pause();
    // Larger than what two kernels keep for a socket.
    const padding = 'x'.repeat(100_000);
    let sent = 0;
    await waitUntil('the slow one is cut off', () => {
      fanout.publish(ATHLETE, { type: 'hello', serverUtcMs: ++sent, version: padding, athleteId: ATHLETE });
      return fanout.viewerCount === 1;
    });
    fanout.publish(ATHLETE, { type: 'hello', serverUtcMs: ++sent, version: 'after', athleteId: ATHLETE });
    slow.socket.resume();
    await waitUntil('the slow one is closed', () => slow.closed);
    await waitUntil('the quick one has all', () => quick.messages.length === sent + 1);
    expect(quick.closed).toBeNull();
    // Without a code when the torn-down connection was quicker than the close frame.
    expect([LIVE_CLOSE.tooSlow, 1006]).toContain(slow.closed!.code);
    expect(slow.messages).not.toContainEqual(expect.objectContaining({ version: 'after' }));
  });
});

describe('a real viewer that receives so little that it stays in the buffers', () => {
  const { fanout, watch } = useLiveSocket({ pingEveryMs: 5, pongWaitMsMax: 300 });

  test('is cut off when it does not answer a ping, and one that reads is not', async () => {
    const [slow, quick] = [watch(), watch()];
    await Promise.all([slow.next('heartbeat'), quick.next('heartbeat')]);
    slow.socket.pause();
    await waitUntil('the slow one is cut off', () => {
      fanout.publishToAll(heartbeat);
      return fanout.viewerCount === 1;
    });
    expect(quick.closed).toBeNull();
    slow.socket.resume();
    await waitUntil('the slow one is closed', () => slow.closed);
    expect([LIVE_CLOSE.tooSlow, 1006]).toContain(slow.closed!.code);
  });
});
