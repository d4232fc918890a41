/** The pure parts of the session: what a sensor is doing, which raw samples a trial takes, what a live message holds. */
import { describe, expect, test } from 'vitest';
import { decodePayload } from '../../server/src/ingest/raw-samples.ts';
import type { SensorState } from '../../server/src/ingest/ingest.ts';
import { AngleBuffer, POINTS_MAX, TOLD_AGAIN_MS, TOLD_AGAIN_STEP_MS } from '../../server/src/session/angle-buffer.ts';
import { buildRecording, nominalRateHz, windowsOf } from '../../server/src/session/recording.ts';
import type { LeadInSpan } from '../../server/src/session/recording.ts';
import { judgeSensor } from '../../server/src/session/sensor-status.ts';
import type { SensorInput } from '../../server/src/session/sensor-status.ts';
import { Turns } from '../../server/src/session/turns.ts';
import { makeRawBatch } from '../support/raw-batch.ts';

const NOW = 1_700_000_100_000;
const state: SensorState = {
  deviceId: 'd',
  connected: true,
  bootId: 1,
  rateHz: 200,
  newestUtcMs: NOW - 100,
  receivedSamples: 1000,
  lostSamples: 12,
  repeatedSamples: 0,
  lateSamples: 0,
  status: null,
  clockResidualMs: 0.4,
  clockSkewPpm: 3,
  unstoredSamples: 0,
};
const sensor = (changes: Partial<SensorInput>): SensorInput => ({
  deviceId: 'd',
  place: 'pelvis',
  state,
  seenBefore: true,
  lastArrivalUtcMs: NOW - 40,
  atStart: { received: 400, lost: 10 },
  ...changes,
});

describe('a sensor', () => {
  test.each([
    ['streaming', sensor({})],
    ['streaming', sensor({ state: { ...state, newestUtcMs: NOW - 500 } })],
    ['catching-up', sensor({ state: { ...state, newestUtcMs: NOW - 501 } })],
    ['catching-up', sensor({ state: { ...state, newestUtcMs: NOW - 501 }, lastArrivalUtcMs: NOW - 500 })],
    ['silent', sensor({ state: { ...state, newestUtcMs: NOW - 501 }, lastArrivalUtcMs: NOW - 501 })],
    ['silent', sensor({ state: { ...state, newestUtcMs: null }, lastArrivalUtcMs: null })],
    ['disconnected', sensor({ state: { ...state, connected: false } })],
    ['disconnected', sensor({ state: null })],
    ['never-seen', sensor({ state: null, seenBefore: false })],
  ] as const)('is %s', (condition, input) => {
    expect(judgeSensor(input, NOW).condition).toBe(condition);
  });

  test('has a lag that is never negative, and counts from the start of the session', () => {
    const ahead = judgeSensor(sensor({ state: { ...state, newestUtcMs: NOW + 3 } }), NOW);
    expect(ahead).toMatchObject({ behindS: 0, receivedSamples: 600, lostSamples: 2 });
    expect(judgeSensor(sensor({}), NOW).behindS).toBeCloseTo(0.1);
  });
});

describe('the windows of raw data', () => {
  const stand: LeadInSpan = { step: 'reference_stand', startUtcMs: 100_000, endUtcMs: 105_000 };
  const bow: LeadInSpan = { step: 'forward_bow', startUtcMs: 110_000, endUtcMs: 120_000 };

  test('are those of lead-in and trial with what lies around them', () => {
    expect(windowsOf([stand], { task: 'run', startUtcMs: 200_000, endUtcMs: 220_000, bodyMassKg: null })).toEqual([
      [95_000, 106_000],
      [190_000, 222_000],
    ]);
  });

  test('are one where they touch, whatever their order', () => {
    expect(windowsOf([bow, stand], { task: 'run', startUtcMs: 121_000, endUtcMs: 122_000, bodyMassKg: null })).toEqual([
      [95_000, 124_000],
    ]);
    expect(windowsOf([], null)).toEqual([]);
  });
});

describe('a recording', () => {
  const start = makeRawBatch().firstUtcMs;
  const trial = { task: 'run', startUtcMs: start + 1000, endUtcMs: start + 2000, bodyMassKg: 61.5 } as const;

  test('holds the samples of the window and no other, in seconds since the session began', () => {
    const batches = [makeRawBatch(), makeRawBatch({ firstSequence: 8 })];
    const window: [number, number] = [start + 10, start + 60];
    const { streams, spanS, marks, bodyMassKg } = buildRecording(
      trial,
      [],
      [{ window, batches: { pelvis: batches } }],
      start,
    );
    expect(streams.pelvis?.samples.map((sample) => sample.tS)).toEqual(
      [2, 3, 4, 5, 6, 7, 8, 9, 10, 11].map((k) => (k * 5) / 1000),
    );
    expect(streams.pelvis?.samples[0]).toMatchObject({ ax: decodePayload(batches[0]!)[2]!.ax });
    expect(streams.sternum).toBeUndefined();
    expect(spanS).toEqual([1, 2]);
    expect(bodyMassKg).toBe(61.5);
    expect(marks).toEqual([{ kind: 'run', startS: 1, endS: 2 }]);
  });

  test('is refused when a payload is not what was received', () => {
    const batch = makeRawBatch();
    batch.payload[5]! ^= 1;
    const raw = [{ window: [0, Infinity] as [number, number], batches: { pelvis: [batch] } }];
    expect(() => buildRecording(trial, [], raw, start)).toThrow(/damaged/);
  });

  test('has the nominal rate that most batches say', () => {
    const at = (intervalUs: number) => makeRawBatch({ intervalUs });
    expect(nominalRateHz([at(5000), at(4999), at(5001)])).toBe(200);
    expect(nominalRateHz([at(9615), at(9616), at(1_000_000)])).toBe(104);
    expect(nominalRateHz([])).toBe(200);
  });
});

describe('a live message of angles', () => {
  const frame = (tS: number, pelvicObliquityDeg: number) => ({
    tS,
    pelvicObliquityDeg,
    trunkLateralTiltDeg: NaN,
    pelvicTiltDeg: 0,
    trunkForwardTiltDeg: 0,
    separationDeg: 0,
  });

  test('has a null for what is not known, and for a gap', () => {
    const buffer = new AngleBuffer();
    buffer.push(frame(1, 2.3456), 5000);
    buffer.breakAt(6500);
    expect(buffer.take()).toEqual({
      type: 'angles',
      utcMs: [6000, 6500],
      pelvicObliquityDeg: [2.35, null],
      trunkLateralTiltDeg: [null, null],
    });
    expect(buffer.take()).toBeNull();
  });

  test('is cut to the newest when a sensor catches up, and the cut is a gap', () => {
    const buffer = new AngleBuffer();
    for (let k = 0; k <= POINTS_MAX; k++) buffer.push(frame(k / 200, k), 0);
    const message = buffer.take()!;
    expect(message.utcMs).toHaveLength(POINTS_MAX / 2 + 1);
    expect(message.utcMs[0]).toBe((POINTS_MAX / 2) * 5);
    expect(message.pelvicObliquityDeg.slice(0, 2)).toEqual([null, POINTS_MAX / 2 + 1]);
    expect(message.pelvicObliquityDeg.at(-1)).toBe(POINTS_MAX);
    expect(message.trunkLateralTiltDeg).toHaveLength(POINTS_MAX / 2 + 1);
  });
});

describe('a dashboard that was away', () => {
  test('gets the last seconds again, thinner, with every gap, and never what is no longer true', () => {
    const buffer = new AngleBuffer();
    expect(buffer.toldLately()).toBeNull();
    const frame = (tS: number) => ({
      tS,
      pelvicObliquityDeg: tS,
      trunkLateralTiltDeg: 0,
      pelvicTiltDeg: 0,
      trunkForwardTiltDeg: 0,
      separationDeg: 0,
    });
    for (let k = 0; k <= 12 * 200; k++) {
      buffer.push(frame(k / 200), 0);
      if (k === 11 * 200) buffer.breakAt(11_001);
      // Nine points a message, so that the thinning has to count across them.
      if (k % 9 === 0 || k === 12 * 200) buffer.take();
    }
    const { utcMs, pelvicObliquityDeg } = buffer.toldLately()!;
    const newest = utcMs.at(-1)!;
    expect(newest).toBeGreaterThan(12_000 - TOLD_AGAIN_STEP_MS);
    expect(newest - utcMs[0]!).toBeLessThanOrEqual(TOLD_AGAIN_MS);
    expect(newest - utcMs[0]!).toBeGreaterThan(TOLD_AGAIN_MS - TOLD_AGAIN_STEP_MS);
    // 200 Hz thinned to 50; the break costs one point more, and moves those after it by less than one step.
    expect(utcMs.length).toBeLessThanOrEqual(TOLD_AGAIN_MS / TOLD_AGAIN_STEP_MS + 2);
    expect(Math.max(...utcMs.slice(1).map((each, i) => each - utcMs[i]!))).toBeLessThan(2 * TOLD_AGAIN_STEP_MS);
    expect(pelvicObliquityDeg[utcMs.indexOf(11_001)]).toBeNull();
    expect(utcMs.every((each, i) => i === 0 || each > utcMs[i - 1]!)).toBe(true);
    buffer.clear();
    expect(buffer.toldLately()).toBeNull();
  });
});

describe('turns', () => {
  test('come one after the other, also after one that failed', async () => {
    const turns = new Turns();
    const order: string[] = [];
    const slow = turns.take(async () => {
      await new Promise((resolve) => setTimeout(resolve, 20));
      order.push('slow');
      throw new Error('failed');
    });
    const quick = turns.take(async () => order.push('quick'));
    await expect(slow).rejects.toThrow('failed');
    await quick;
    expect(order).toEqual(['slow', 'quick']);
  });
});
