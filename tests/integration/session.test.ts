/**
 * A whole session of the synthetic athlete through real sockets, on a clock that runs fast: live, final, and again. The
 * athlete is checked against the simulation's own truth, which shares no code with the analysis.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { PLACES } from '../../shared/src/index.ts';
import type {
  AnalysisResult,
  AthleteSummary,
  HistoryPoint,
  SessionView,
  Stance,
  TrialView,
  TrialWaveforms,
} from '../../shared/src/index.ts';
import type { Database } from '../../server/src/store/database.ts';
import { ledInSession } from '../support/led-in-session.ts';
import { coachSession } from '../support/coached-session.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { watchLive } from '../support/live-viewer.ts';
import type { LiveViewer } from '../support/live-viewer.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';

const SEED = 11;
const SPEED = 5;

const movement = ledInSession(SEED, { kind: 'walk', seconds: 20, cadencePerMin: 110 }, { kind: 'pause', seconds: 5 });

let server: TestPostgres;
let database: Database;
let api: TestApp;
let viewer: LiveViewer;
let athlete: AthleteSummary;
let session: SessionView;
let final: TrialView;

/** Plays the movement and taps what a coach taps; ends when the trial's result is final. */
beforeAll(async () => {
  server = await startTestPostgres();
  database = await server.newDatabase();
  const clock = makeFastClock(SPEED);
  api = await startTestApp(database, { nowUtcMs: clock.nowUtcMs });
  const played = await coachSession(api, movement, {
    speed: SPEED,
    prefix: 'test',
    details: { name: 'Test athlete' },
  });
  ({ athlete, session, viewer } = played);
  final = played.trials[0]!;
}, 120_000);

afterAll(async () => {
  viewer?.socket.terminate();
  await api?.close();
  await server?.stop();
});

/** The walking stances on the live feed as a dashboard has them at the end. */
function liveStances(): Stance[] {
  const byId = new Map<number, Stance>();
  for (const message of viewer.messages) {
    if (message.type !== 'stance') continue;
    if (message.withdrawn) byId.delete(message.stance.id);
    else byId.set(message.stance.id, message.stance);
  }
  return [...byId.values()];
}

describe('a session', () => {
  test('keeps every sample that was measured', async () => {
    for (const place of PLACES) {
      const [row] =
        await database.sql`select sum(count)::int as n from raw_batches where device_id = ${`test-${place}`}`;
      expect(row?.['n']).toBe(movement.streams[place]!.ax.length);
    }
  });

  test('learns from the lead-in how the sensors sit, and says so', async () => {
    const view = await api.call<SessionView>('GET', `/api/sessions/${session.id}`);
    expect(view.leadIn.map((each) => each.step)).toEqual(['reference_stand', 'forward_bow']);
    expect(view.mounting.pelvis?.source).toBe('lead-in');
    expect(view.mounting.sternum?.source).toBe('lead-in');
    const told = viewer.messages.filter((message) => message.type === 'mounting').at(-1);
    expect(told?.type === 'mounting' && told.mounting).toEqual(view.mounting);
  });

  test('shows angles while it moves, each at a later time than the one before', () => {
    const times: number[] = [];
    let known = 0;
    for (const message of viewer.messages) {
      if (message.type !== 'angles') continue;
      times.push(...message.utcMs);
      known += message.pelvicObliquityDeg.filter((value) => value !== null).length;
    }
    const walkS = movement.marks.find((mark) => mark.kind === 'walk')!;
    expect(known).toBeGreaterThan(0.9 * (walkS.endS - walkS.startS) * movement.rateHz);
    expect(times.every((time, i) => i === 0 || time > times[i - 1]!)).toBe(true);
  });

  test('shows stances of both sides live, and the same ones in the end', () => {
    expect(final.problem).toBeNull();
    expect(final.state).toBe('final');
    const live = liveStances();
    for (const side of ['left', 'right'] as const) {
      const kept = final.stances.filter((stance) => stance.side === side);
      expect(kept.length).toBeGreaterThanOrEqual(12);
      for (const stance of kept) {
        // Final contacts may move by the smoothing; they stay the same steps.
        const same = live.find((each) => Math.abs(each.initialContact - stance.initialContact) < 0.1);
        if (same) expect(same.side).toBe(side);
      }
    }
    expect(live.length).toBeGreaterThanOrEqual(final.stances.length - 4);
  });

  test('finds the side and the size of the one-sidedness that the athlete has', () => {
    const truth = movement.truth.stances.filter((stance) => stance.task === 'walk' && stance.steady);
    const mean = (side: 'left' | 'right') => {
      const drops = truth.filter((stance) => stance.side === side).map((stance) => stance.swingSideDropDeg);
      return drops.reduce((sum, drop) => sum + drop, 0) / drops.length;
    };
    const trueDifference = mean('left') - mean('right');
    const found = final.asymmetry.swingSideDropDeg!;
    expect(trueDifference).toBeGreaterThan(3);
    expect(found.verdict).toBe('more than scatter');
    // What the seat of the sensors may shift an angle by comes on top of the scatter.
    const slack = found.placementUncertainty ?? 0;
    expect(found.difference! - trueDifference).toBeGreaterThan(-slack);
    expect(found.difference! - trueDifference).toBeLessThan(slack);
  });

  test('tells the dashboards the final numbers, after provisional ones', () => {
    const told = viewer.messages.filter((message) => message.type === 'asymmetry');
    expect(told.length).toBeGreaterThan(3);
    expect(told.at(-1)).toEqual({
      type: 'asymmetry',
      trialId: final.id,
      provisional: false,
      metrics: final.asymmetry,
    });
    expect(told.slice(0, -1).every((message) => message.type === 'asymmetry' && message.provisional)).toBe(true);
  });

  test('gives the same bytes each time it is analysed again, and they hold what is stored', async () => {
    const text = async () => (await fetch(`${api.url}/api/trials/${final.id}/result`)).text();
    const [first, second] = [await text(), await text()];
    expect(second).toBe(first);
    const result = JSON.parse(first) as AnalysisResult;
    expect(result.stances).toEqual(final.stances);
    expect(result.asymmetry).toEqual(final.asymmetry);
    expect(result.quality).toEqual(final.quality);
    expect(result.taskSummary).toEqual(final.taskSummary);
    expect(await api.call('GET', `/api/trials/${final.id}/waveforms`)).toEqual({
      trialId: final.id,
      version: result.version,
      waveforms: result.waveforms,
    } satisfies TrialWaveforms);
    expect(result.waveforms.left.swingSideHeightDeg?.n).toBeGreaterThanOrEqual(12);
    expect(result.angles.t.length).toBeGreaterThan(3000);
  });

  test('is part of the history', async () => {
    const points = await api.call<HistoryPoint[]>('GET', `/api/athletes/${athlete.id}/history?metric=swingSideDropDeg`);
    expect(points).toEqual([
      {
        trialId: final.id,
        task: 'walk',
        utcMs: final.startedUtcMs,
        version: final.version,
        asymmetry: final.asymmetry.swingSideDropDeg,
      },
    ]);
  });

  test('goes on after a restart of the server: session, lead-in and result are there', async () => {
    viewer.socket.terminate();
    await api.close();
    api = await startTestApp(database);
    expect(await api.call('GET', `/api/trials/${final.id}`)).toEqual(final);
    const again = watchLive(api.socketUrl, athlete.id);
    const mounting = (await again.next('mounting')).mounting;
    expect((await again.next('session')).session?.sessionId).toBe(session.id);
    expect([mounting.pelvis?.source, mounting.sternum?.source]).toEqual(['lead-in', 'lead-in']);
    again.socket.terminate();
  });
});
