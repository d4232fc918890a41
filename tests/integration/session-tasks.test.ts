/** A stand and a run through real sockets: what the task shows live, and the forces with the body mass of that day. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { AnalysisResult, LiveMessage, TrialView } from '../../shared/src/index.ts';
import { ledInSession } from '../support/led-in-session.ts';
import { coachSession, type CoachedSession } from '../support/coached-session.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';

const SEED = 12;
const SPEED = 4;

const movement = ledInSession(
  SEED,
  { kind: 'stand', seconds: 8 },
  { kind: 'pause', seconds: 2 },
  { kind: 'run', seconds: 10, cadencePerMin: 168, speedMps: 3.5 },
  { kind: 'pause', seconds: 5 },
);
const { bodyMassKg } = movement.truth;

let server: TestPostgres;
let api: TestApp;
let played: CoachedSession;
let stand: TrialView;
let run: TrialView;
beforeAll(async () => {
  server = await startTestPostgres();
  api = await startTestApp(await server.newDatabase(), { nowUtcMs: makeFastClock(SPEED).nowUtcMs });
  const details = { name: 'Test athlete', bodyMassKg };
  played = await coachSession(api, movement, { speed: SPEED, prefix: 'tasks', details });
  [stand, run] = played.trials as [TrialView, TrialView];
}, 120_000);
afterAll(async () => {
  played?.viewer.socket.terminate();
  await api?.close();
  await server?.stop();
});

function told<T extends LiveMessage['type']>(type: T): Extract<LiveMessage, { type: T }>[] {
  return played.viewer.messages.filter((message) => message.type === type) as never;
}

describe('a stand', () => {
  test('is told while it runs, each time with newer samples, and never for the run', () => {
    const messages = told('task');
    expect(messages.length).toBeGreaterThanOrEqual(2);
    messages.forEach((each, k) => {
      expect(each).toMatchObject({ trialId: stand.id, provisional: true, now: { kind: 'standing' } });
      expect(each.utcMs).toBeGreaterThan(messages[k - 1]?.utcMs ?? stand.startedUtcMs);
    });
  });

  test('has its resting lean in the stored summary, that of the newest live one or near it', () => {
    const final = stand.taskSummary!.stand[0]!;
    const live = told('task').at(-1)!.summary.stand[0]!;
    for (const place of ['pelvis', 'trunk'] as const) {
      // Live poses run forwards, final ones are smoothed; each knows the zero to about its uncertainty.
      const slack = 2 * final.restingLeanUncertaintyDeg[place]!;
      expect(live.restingLeanDeg[place]).not.toBeNull();
      expect(Math.abs(live.restingLeanDeg[place]! - final.restingLeanDeg[place]!)).toBeLessThan(slack);
    }
  });
});

describe('a run', () => {
  const result = async () => (await fetch(`${api.url}/api/trials/${run.id}/result`)).text();

  test('has forces, live and in the end, since the body mass is known', () => {
    expect(run).toMatchObject({ state: 'final', bodyMassKg });
    const forces = run.stances.flatMap((each) => (each.peakForceN === null ? [] : [each.peakForceN]));
    expect(forces.length).toBeGreaterThanOrEqual(6);
    // Running peaks are some two to three times the body weight (common practice, no source); with another mass they are not.
    for (const force of forces) {
      expect(force / (bodyMassKg * 9.81)).toBeGreaterThan(1.5);
      expect(force / (bodyMassKg * 9.81)).toBeLessThan(4);
    }
    expect(told('stance').some(({ trialId, stance }) => trialId === run.id && stance.peakForceN !== null)).toBe(true);
  });

  test('gives the same bytes when the athlete weighs something else by now', async () => {
    const before = await result();
    await api.call('PATCH', `/api/athletes/${played.athlete.id}`, { bodyMassKg: bodyMassKg + 9 });
    expect(await result()).toBe(before);
    expect((JSON.parse(before) as AnalysisResult).stances).toEqual(run.stances);
  });

  test('shows its waveforms live', () => {
    const newest = told('waveforms').at(-1)!;
    expect(newest.trialId).toBe(run.id);
    expect(newest.waveforms.left.swingSideHeightDeg?.n).toBeGreaterThanOrEqual(7);
    expect(newest.waveforms.right.swingSideHeightDeg?.n).toBeGreaterThanOrEqual(7);
  });
});
