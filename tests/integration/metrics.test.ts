/** The numbers at /metrics are those of what happened, and the document lists them. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { AthleteSummary, LiveMessage, SessionView, TrialSummary } from '../../shared/src/index.ts';
import { PROTOCOL_ERRORS } from '../../firmware-protocol/src/index.ts';
import { UNSENT_BYTES_MAX } from '../../server/src/live/live-fanout.ts';
import { AcknowledgementWait } from '../../server/src/ops/acknowledgement-wait.ts';
import { CountedFanout } from '../../server/src/ops/counted.ts';
import { makeMetrics } from '../../server/src/ops/metrics.ts';
import { countingSource } from '../support/counting-source.ts';
import { makeStance } from '../support/sample-result.ts';
import { watchLive } from '../support/live-viewer.ts';
import { useTestApp } from '../support/suite-app.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

const DEVICE = 'counted-pelvis';
const NAME = 'Countess Numbers';

let api: TestApp;
let server: TestPostgres;
useTestApp((suite) => ({ api, server } = suite));

/** Values by name with labels, as they stand in the text. */
async function read(from: TestApp = api): Promise<Map<string, number>> {
  const response = await fetch(`${from.url}/metrics`);
  expect([response.status, response.headers.get('content-type')]).toEqual([
    200,
    expect.stringContaining('text/plain; version=0.0.4'),
  ]);
  return valuesOf(await response.text());
}

function valuesOf(text: string): Map<string, number> {
  const lines = text.split('\n').filter((line) => line !== '' && !line.startsWith('#'));
  return new Map(
    lines.map((line) => [line.slice(0, line.lastIndexOf(' ')), Number(line.slice(line.lastIndexOf(' ')))]),
  );
}

describe('the metrics of a server', () => {
  test('begin at 0, every error of the catalogue included', async () => {
    const values = await read();
    for (const name of Object.keys(PROTOCOL_ERRORS)) {
      expect([name, values.get(`ambipede_ingest_errors_total{name="${name}"}`)]).toEqual([name, 0]);
    }
    for (const outcome of ['received', 'handed-on', 'stored', 'missing', 'repeated', 'late']) {
      expect(values.get(`ambipede_samples_total{outcome="${outcome}"}`)).toBe(0);
    }
    expect(values.get('ambipede_sensors_connected')).toBe(0);
    expect(values.get('process_resident_memory_bytes')).toBeGreaterThan(1e6);
  });

  test('count frames, samples, commits and acknowledgements of a sensor exactly', async () => {
    const athlete = await api.call<AthleteSummary>('POST', '/api/athletes', { name: NAME });
    await api.call('PUT', `/api/sensors/${DEVICE}`, { athleteId: athlete.id, place: 'pelvis' });
    const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id });
    const viewer = watchLive(api.socketUrl, athlete.id);
    const sensor = startVirtualSensor({
      deviceId: DEVICE,
      token: await api.enrol(DEVICE),
      url: `${api.socketUrl}/ingest`,
      rateHz: 200,
      source: countingSource(),
    });
    const trial = await api.call<TrialSummary>('POST', `/api/sessions/${session.id}/trials`, { task: 'stand' });
    await waitUntil('a second is acknowledged', () => sensor.state().acknowledged > 200);
    const during = await read();
    expect(during.get('ambipede_sensors_connected')).toBe(1);
    expect(during.get('ambipede_live_viewers')).toBe(1);
    await api.call('POST', `/api/trials/${trial.id}/stop`);
    await waitUntil('the trial is final', async () => {
      const { state } = await api.call<TrialSummary>('GET', `/api/trials/${trial.id}`);
      return state === 'final' || state === 'failed';
    });
    const end = await sensor.stop();
    viewer.socket.close();
    const values = await waitUntil('it is seen to have gone', async () => {
      const now = await read();
      return now.get('ambipede_sensors_connected') === 0 && now.get('ambipede_live_viewers') === 0 ? now : null;
    });
    expect(end.dropped).toBe(0);
    for (const outcome of ['handed-on', 'stored']) {
      expect([outcome, values.get(`ambipede_samples_total{outcome="${outcome}"}`)]).toEqual([outcome, end.sampled]);
    }
    const received = values.get('ambipede_samples_total{outcome="received"}')!;
    expect(received).toBeGreaterThanOrEqual(end.sampled);
    expect(values.get('ambipede_samples_total{outcome="repeated"}')).toBe(received - end.sampled);
    expect(values.get('ambipede_ingest_frames_total{type="hello"}')).toBe(1);
    expect(values.get('ambipede_ingest_frames_total{type="goodbye"}')).toBe(1);
    expect(values.get('ambipede_append_queue_samples')).toBe(0);
    expect(values.get('ambipede_append_failures_total')).toBe(0);
    expect(values.get('ambipede_append_seconds_count')).toBeGreaterThan(0);
    expect(values.get('ambipede_acknowledgement_seconds_count')).toBeGreaterThan(0);
    expect(values.get('ambipede_acknowledgement_waiting_seconds')).toBe(0);
    expect(values.get('ambipede_event_loop_delay_seconds_count')).toBeGreaterThan(0);
    expect(values.get('ambipede_analyses_total{outcome="done"}')).toBe(1);
    expect(values.get('ambipede_analysis_seconds_count')).toBe(1);
    expect(values.get('ambipede_analyses_pending')).toBe(0);
  });

  test('count an error under its name', async () => {
    const before = (await read()).get('ambipede_ingest_errors_total{name="bad-magic"}');
    const socket = new WebSocket(`${api.socketUrl}/ingest`);
    socket.on('open', () => socket.send(Buffer.alloc(64, 0x5a)));
    await new Promise((resolve) => socket.on('close', resolve));
    expect((await read()).get('ambipede_ingest_errors_total{name="bad-magic"}')).toBe(before! + 1);
  });

  test('hold nothing that tells of a device or a person', async () => {
    const text = await (await fetch(`${api.url}/metrics`)).text();
    expect(text).not.toMatch(new RegExp(`${DEVICE}|${NAME}|[0-9a-f]{8}-[0-9a-f]{4}`));
    const labels = [...text.matchAll(/[{,](\w+)="/g)].map(([, label]) => label);
    expect(new Set(labels)).toEqual(new Set(['name', 'type', 'outcome', 'le']));
  });

  test('belong to that server alone', async () => {
    const other = await startTestApp(await server.newDatabase());
    expect((await read(other)).get('ambipede_ingest_frames_total{type="hello"}')).toBe(0);
    await other.close();
  });

  test('are those that docs/operations.md lists, with kind and labels', async () => {
    const text = await (await fetch(`${api.url}/metrics`)).text();
    const kinds = [...text.matchAll(/^# TYPE (\S+) (\S+)$/gm)].map(([, name, kind]) => `${name} ${kind}`);
    const document = readFileSync(path.resolve(import.meta.dirname, '../../docs/operations.md'), 'utf8');
    const rows = [...document.matchAll(/^\| `((?:ambipede|process|nodejs)_\w+)` +\| (\w+) /gm)];
    expect(rows.map(([, name, kind]) => `${name} ${kind}`).sort()).toEqual(kinds.sort());
  });
});

describe('a dashboard that does not keep up', () => {
  test('is counted once it is cut off, and is otherwise treated as without counting', async () => {
    const metrics = makeMetrics();
    const fanout = new CountedFanout(metrics, () => null);
    const got: string[] = [];
    const viewer = (bufferedAmount: number) => ({
      bufferedAmount,
      isBehind: false,
      send: (text: string) => void got.push(text),
      cutOff: (code: number) => void got.push(`cut off ${code}`),
    });
    fanout.subscribe('a', viewer(UNSENT_BYTES_MAX + 1));
    fanout.subscribe('a', viewer(0));
    fanout.publishToAll({ type: 'heartbeat', serverUtcMs: 1 });
    expect(got).toEqual(['cut off 4408', '{"type":"heartbeat","serverUtcMs":1}']);
    expect(valuesOf(await metrics.registry.metrics()).get('ambipede_live_viewers_cut_off_total')).toBe(1);
  });
});

describe('the way of a stance to the dashboards', () => {
  test('is measured from its toe-off, when it is new and somebody can say', async () => {
    const metrics = makeMetrics();
    const fanout = new CountedFanout(metrics, (athleteId, toeOffS) =>
      athleteId === 'a' ? 10_000 - toeOffS * 1000 : null,
    );
    const stance = { ...makeStance(1, 'left'), toeOff: 9.88, revision: 0 };
    const message: LiveMessage = { type: 'stance', trialId: 't', stance, provisional: true, withdrawn: false };
    fanout.publish('a', message);
    fanout.publish('nobody', message);
    fanout.publish('a', { ...message, withdrawn: true });
    fanout.publish('a', { ...message, stance: { ...stance, revision: 1 } });
    const values = valuesOf(await metrics.registry.metrics());
    expect(values.get('ambipede_stance_publish_seconds_count')).toBe(1);
    expect(values.get('ambipede_stance_publish_seconds_sum')).toBeCloseTo(0.12, 9);
  });
});

describe('the wait for an acknowledgement', () => {
  test('ends when all samples of the frame are durable', () => {
    const wait = new AcknowledgementWait();
    wait.came('d', 1, 8, 100);
    wait.came('d', 1, 16, 140);
    expect(wait.durable('d', 1, 7, 150)).toBeNull();
    expect(wait.oldestMs(160)).toBe(60);
    expect(wait.durable('d', 1, 16, 170)).toBe(70);
    expect(wait.durable('d', 1, 24, 180)).toBeNull();
    expect(wait.oldestMs(190)).toBe(0);
  });

  test('begins anew with each start of the device, and ends when it leaves', () => {
    const wait = new AcknowledgementWait();
    wait.came('d', 1, 8, 100);
    wait.came('d', 2, 4, 200);
    expect(wait.durable('d', 1, 8, 210)).toBeNull();
    expect(wait.oldestMs(230)).toBe(30);
    wait.left('d');
    expect(wait.oldestMs(300)).toBe(0);
  });
});
