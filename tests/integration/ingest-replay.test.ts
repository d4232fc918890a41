/** A recording played through real sockets to ingest and to a stand-in for the HTTP API that notes what it is asked. */
import { once } from 'node:events';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { WebSocketServer } from 'ws';
import { Ingest } from '../../server/src/ingest/ingest.ts';
import { acceptSensorSocket } from '../../server/src/ingest/ingest-socket.ts';
import { decodePayload } from '../../server/src/ingest/raw-samples.ts';
import type { ImuSample, Recording } from '../../server/src/motion/types.ts';
import { IDLE_MS_MAX } from '../../server/src/access/sign-in-life.ts';
import { ReplayApi, STAY_SIGNED_IN_MS } from '../../server/src/replay-api.ts';
import { planTaps, replayRecording } from '../../server/src/replay.ts';
import { waitUntil } from '../support/wait-until.ts';
import { MemoryLog } from './ingest-fixture.ts';

const RATE_HZ = 100;

/** `seconds` of samples from `startS` on; samples of the numbers in `missing` were lost. */
function samplesOf(startS: number, seconds: number, missing: number[] = []): ImuSample[] {
  return Array.from({ length: seconds * RATE_HZ }, (_, k) => ({
    tS: startS + k / RATE_HZ,
    ax: k / 100,
    ay: 0,
    az: 9.8,
    gx: 0,
    gy: 0.5,
    gz: 0,
  })).filter((_, k) => !missing.includes(k));
}

function recordingOf(more: Partial<Recording> = {}): Recording {
  return {
    task: 'walk',
    streams: {
      pelvis: { samples: samplesOf(10, 2, [50, 51, 52]), rateHz: RATE_HZ },
      sternum: { samples: samplesOf(10, 2), rateHz: RATE_HZ },
    },
    marks: [],
    separateClocks: false,
    spanS: [10, 12],
    ...more,
  };
}

describe('the taps of a replay', () => {
  it('are one trial over everything when no task is marked', () => {
    const taps = planTaps(recordingOf());
    expect(taps.map(({ action, what }) => [action, what])).toEqual([
      ['start', { kind: 'trial', task: 'walk' }],
      ['stop', { kind: 'trial', task: 'walk' }],
    ]);
    expect(taps[1]?.atS).toBeCloseTo(1.99);
  });

  it('follow the marks, ending one before beginning the next', () => {
    const marks = [
      { kind: 'reference_stand', startS: 10, endS: 10.5 },
      { kind: 'forward_bow', startS: 10.5, endS: 11 },
      { kind: 'tying a shoe', startS: 11, endS: 11.2 },
      { kind: 'run', startS: 11, endS: 99 },
      { kind: 'stand', startS: 20, endS: 30 },
    ];
    const taps = planTaps(recordingOf({ marks }));
    expect(
      taps.map(({ atS, action, what }) => [
        Number(atS.toFixed(2)),
        action,
        what.kind === 'trial' ? what.task : what.step,
      ]),
    ).toEqual([
      [0, 'start', 'reference_stand'],
      [0.5, 'stop', 'reference_stand'],
      [0.5, 'start', 'forward_bow'],
      [1, 'stop', 'forward_bow'],
      [1, 'start', 'run'],
      [1.99, 'stop', 'run'],
    ]);
  });

  it('need a task that the server knows', () => {
    expect(() => planTaps(recordingOf({ task: 'juggling' }))).toThrow(/"juggling" is not a task. Give --task/);
    expect(planTaps(recordingOf({ task: 'juggling' }), 'run')[0]?.what).toEqual({ kind: 'trial', task: 'run' });
  });
});

describe('a replay', () => {
  let server: Server;
  let ingest: Ingest;
  let log: MemoryLog;
  let asked: string[];
  let url: string;

  beforeEach(async () => {
    log = new MemoryLog();
    asked = [];
    ingest = new Ingest({
      log,
      admits: (deviceId, token) => Buffer.from(token).toString() === `token of ${deviceId}`,
      onSamples: () => {},
      onStatus: () => {},
      onSensorChange: () => {},
      onProblem: () => {},
    });
    server = createServer((request, response) => {
      let body = '';
      request.on('data', (chunk: Buffer) => (body += chunk.toString()));
      request.on('end', () => {
        asked.push(`${request.method} ${request.url}${body ? ` ${body}` : ''}`);
        const trial = { id: 't1', task: 'walk', state: 'final', stanceCount: { left: 3, right: 4 }, problem: null };
        const enrolled = /sensors\/(.+)\/enrolment/.exec(request.url ?? '')?.[1];
        const answer = enrolled
          ? { deviceId: enrolled, token: `token of ${enrolled}` }
          : request.url?.includes('trials')
            ? trial
            : request.method === 'GET'
              ? []
              : { id: 'x1' };
        response.setHeader('content-type', 'application/json');
        response.end(JSON.stringify(answer));
      });
    });
    const sockets = new WebSocketServer({ server, path: '/ingest' });
    sockets.on('connection', (socket) => acceptSensorSocket(socket, ingest));
    server.listen(0, '127.0.0.1');
    await once(server, 'listening');
    url = `ws://127.0.0.1:${(server.address() as AddressInfo).port}`;
  });
  afterEach(async () => {
    await ingest.close();
    server.closeAllConnections();
    server.close();
  });

  it('stores the samples with the spacing of the recording and taps at the times of its marks', async () => {
    const lines: string[] = [];
    await replayRecording(recordingOf(), { url, athlete: 'Replay', log: (line) => lines.push(line) });
    expect(asked).toEqual([
      'GET /api/athletes',
      'POST /api/athletes {"name":"Replay"}',
      'POST /api/sensors/replay-pelvis/enrolment',
      'PUT /api/sensors/replay-pelvis {"athleteId":"x1","place":"pelvis"}',
      'POST /api/sensors/replay-sternum/enrolment',
      'PUT /api/sensors/replay-sternum {"athleteId":"x1","place":"sternum"}',
      'POST /api/sessions {"athleteId":"x1"}',
      'POST /api/sessions/x1/trials {"task":"walk"}',
      'POST /api/trials/t1/stop',
      'GET /api/trials/t1',
      'POST /api/sessions/x1/end',
      'PUT /api/sensors/replay-pelvis {"athleteId":null,"place":"pelvis"}',
      'PUT /api/sensors/replay-sternum {"athleteId":null,"place":"sternum"}',
    ]);
    expect(lines.join('\n')).toContain('walk: final, 3 left and 4 right stances');
    const recording = recordingOf();
    for (const place of ['pelvis', 'sternum'] as const) {
      const recorded = recording.streams[place]?.samples ?? [];
      const stored = log.of(`replay-${place}`).flatMap(decodePayload);
      expect(stored.map(({ ax }) => Number(ax.toFixed(2)))).toEqual(recorded.map(({ ax }) => ax));
      // From the same start; within half of a slow loopback round trip.
      const driftMs = stored.map(
        ({ utcMs }, i) => utcMs - (stored[0]?.utcMs ?? 0) - ((recorded[i]?.tS ?? NaN) - (recorded[0]?.tS ?? 0)) * 1000,
      );
      expect(Math.max(...driftMs.map(Math.abs))).toBeLessThan(5);
    }
  });

  it('refuses a recording without a gyroscope, and says what to use instead', async () => {
    const samples = samplesOf(0, 1).map((sample) => ({ ...sample, gx: NaN, gy: NaN, gz: NaN }));
    const recording = recordingOf({ streams: { pelvis: { samples, rateHz: RATE_HZ } } });
    await expect(replayRecording(recording, { url, athlete: 'Replay', log: () => {} })).rejects.toThrow(
      /no gyroscope.*npm run analyse/,
    );
    expect(asked).toEqual([]);
  });

  it('stays signed in through a trial that asks for nothing, until it signs out', async () => {
    expect(2 * STAY_SIGNED_IN_MS).toBeLessThan(IDLE_MS_MAX);
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
    try {
      const api = new ReplayApi(url);
      await api.signIn({ login: 'coach', password: 'x' });
      vi.advanceTimersByTime(STAY_SIGNED_IN_MS);
      await waitUntil('it has asked', () => asked.includes('GET /api/me'));
      await api.signOut();
      const before = asked.length;
      vi.advanceTimersByTime(3 * STAY_SIGNED_IN_MS);
      await api.call('GET', '/api/athletes');
      expect(asked.slice(before)).toEqual(['GET /api/athletes']);
    } finally {
      vi.useRealTimers();
    }
  });

  it('refuses an address that is none', () => {
    for (const wrong of ['127.0.0.1:8080', 'tablet', 'ftp://127.0.0.1'])
      expect(() => new ReplayApi(wrong)).toThrow(/--url is ".*": give the address of the server/);
  });

  it('says what to do when no server answers', async () => {
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
    await expect(replayRecording(recordingOf(), { url, athlete: 'Replay', log: () => {} })).rejects.toThrow(
      /No server at .*npm start/,
    );
  });
});
