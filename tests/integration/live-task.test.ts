/** What the coach sees of a task while it runs, against the simulation's own truth, which shares no code with it. */
import { describe, expect, test } from 'vitest';
import type { ScriptStep } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { COACH_TASKS, type LiveMessage, type LiveTask, type Side, type Task, type TaskNow } from '@ambipede/shared';
import { LANDING } from '../../server/src/tasks/landing.ts';
import { STAND } from '../../server/src/tasks/stand.ts';
import { FALSE_FRONTAL_MEAN_DEG } from '../motion/goals.ts';
import { sessionOf } from '../tasks/recordings.ts';
import { FEED_START_UTC_MS, feedSession, type FedTrial } from '../support/live-feed.ts';

type TaskMessage = Extract<LiveMessage, { type: 'task' }>;
type Told = TaskMessage & { sentS: number; endS: number };
/** Flight times from the sacrum have an RMSE of 20 ms (Patoz et al. 2022, Sensors 22:784); a single one, twice that. */
const FLIGHT_S = 0.04;
const TICK_S = 0.5;

function play(seed: number, task: Task, steps: ScriptStep[], changes: Partial<FedTrial> = {}) {
  const movement = sessionOf(seed, steps, 'realistic');
  const rung = COACH_TASKS.find((each) => each.task === task)!.rung;
  const mark = movement.marks.find(({ kind }) => kind.startsWith(rung))!;
  const { messages, sentS } = feedSession(movement, {
    task,
    startS: mark.startS - 0.4,
    endS: mark.endS + 2,
    ...changes,
  });
  const told = messages.flatMap((message, i): Told[] =>
    message.type === 'task' ? [{ ...message, sentS: sentS[i]!, endS: (message.utcMs - FEED_START_UTC_MS) / 1000 }] : [],
  );
  return { movement, mark, told, messages };
}

function nowOf<K extends TaskNow['kind']>(message: LiveTask, kind: K): Extract<TaskNow, { kind: K }> {
  expect(message.now.kind).toBe(kind);
  return message.now as Extract<TaskNow, { kind: K }>;
}

function meanBetween(t: Float64Array, values: Float64Array, fromS: number, toS: number): number {
  const within = values.filter((_, i) => t[i]! >= fromS && t[i]! < toS);
  return within.reduce((sum, value) => sum + value, 0) / within.length;
}

describe('a quiet stand', () => {
  test('shows the lean of the last second of pelvis and trunk, twice a second', () => {
    const { movement, mark, told } = play(1, 'stand', [{ kind: 'stand', seconds: 12 }]);
    const { angles } = movement.truth;
    const within = told.filter((each) => each.endS > mark.startS + 1 && each.endS < mark.endS);
    expect(within.length).toBeGreaterThanOrEqual(20);
    for (const message of within) {
      expect(message.sentS - message.endS).toBeLessThan(0.2);
      const { leanDeg } = nowOf(message, 'standing');
      const truth = (column: Float64Array) => meanBetween(angles.t, column, message.endS - 1, message.endS);
      expect(Math.abs(leanDeg.pelvis! - truth(angles.pelvicObliquityDeg))).toBeLessThan(LEAN_DEG);
      expect(Math.abs(leanDeg.trunk! - truth(angles.trunkLateralTiltDeg))).toBeLessThan(LEAN_DEG);
    }
    const last = within.at(-1)!;
    expect(last.summary.stand[0]!.sway.trunk!.pathDegPerS).toBeGreaterThan(0);
    expect(nowOf(last, 'standing').heldS).toBeGreaterThan(mark.endS - mark.startS - 1);
    expect(last.fromUtcMs).toBeLessThan(FEED_START_UTC_MS + mark.startS * 1000);
  });
});
/** The zero: an own sway in the reference stand, sensors on skin, and twice what the goal allows for one frame of it. */
const LEAN_DEG = 2 * FALSE_FRONTAL_MEAN_DEG;

describe.each(['left', 'right'] as const)('a single-leg stand on the %s foot', (side) => {
  const other: Side = side === 'left' ? 'right' : 'left';
  const { movement, told } = play(2, `single-leg-stand-${side}`, [{ kind: 'single-leg-stand', side, holdsS: [9] }]);
  const hold = movement.truth.singleLegStands[0]!.holds[0]!;

  test('counts the time while it goes on, and stops when the foot is down', () => {
    const during = told.filter((each) => each.endS > hold.startS + 4 && each.endS < hold.endS - 0.5);
    expect(during.length).toBeGreaterThanOrEqual(8);
    for (const message of during) {
      // Each end of a hold is seen somewhere within the weight's going over.
      expect(Math.abs(nowOf(message, 'standing').heldS - (message.endS - hold.startS))).toBeLessThan(0.8);
    }
    expect(Math.abs(nowOf(told.at(-1)!, 'standing').heldS - hold.heldS)).toBeLessThan(0.8);
  });

  test('is of the marked foot, with its lean over it and the corrections so far', () => {
    const { summary, now } = told.at(-1)!;
    expect(summary.singleLegStand[0]).toMatchObject({
      side,
      corrections: (now as { corrections: unknown }).corrections,
    });
    expect(Math.abs(summary.singleLegStand[0]!.leanToStanceDeg! - hold.leanToStanceDeg)).toBeLessThan(LEAN_DEG);
    expect(Math.abs(summary.singleLegStand[0]!.swingSideHeightDeg! - hold.swingSideHeightDeg)).toBeLessThan(LEAN_DEG);
    const truth = { left: 0, right: 0 };
    for (const { towards } of hold.corrections) truth[towards] += 1;
    // A small catching movement may be missed.
    for (const each of [side, other])
      expect(summary.singleLegStand[0]!.corrections![each]).toBeLessThanOrEqual(truth[each]);
  });
});

describe('a run-up', () => {
  const takeOff = (side: Side) => ({ side, flightS: 0.5, landing: 'both' as const });
  test.each([
    [3, 'left'],
    [4, 'right'],
    [9, 'left'],
    [12, 'right'],
  ] as const)('names no foot before the take-off, and the right one after it (seed %d, %s)', (seed, side) => {
    const steps: ScriptStep[] = [{ kind: 'run-up', steps: 14, topSpeedMps: 7, takeOff: takeOff(side) }];
    const { movement, told } = play(seed, 'run-up', steps);
    const [truth] = movement.truth.takeOffs;
    const touchS = truth!.t + truth!.flightS;
    for (const { endS, summary } of told) {
      if (endS < touchS + LANDING.peakS - FLIGHT_S)
        expect(summary.runUp[0]).toMatchObject({ takeOff: null, landing: null });
      if (endS < touchS + LANDING.peakS + FLIGHT_S) continue;
      expect(summary.runUp[0]!.takeOff!.side).toBe(side);
      expect(Math.abs(summary.runUp[0]!.takeOff!.flightTimeS - truth!.flightS)).toBeLessThan(FLIGHT_S);
      expect(Math.abs(summary.runUp[0]!.landing!.t - touchS)).toBeLessThan(FLIGHT_S);
    }
    expect(told.filter(({ summary }) => summary.runUp[0]!.takeOff !== null).length).toBeGreaterThan(3);
  });

  test('shows the last contacts as they come, in order, each foot in turn', () => {
    const { movement, told, mark } = play(3, 'run-up', [
      { kind: 'run-up', steps: 14, topSpeedMps: 7, takeOff: takeOff('left') },
    ]);
    const midS = (mark.startS + movement.truth.takeOffs[0]!.t) / 2;
    const { contacts } = nowOf(
      told.find((each) => each.endS > midS)!,
      'run-up',
    );
    expect(contacts.length).toBeGreaterThanOrEqual(6);
    for (const contact of contacts.filter((each) => each.side !== 'unknown').slice(-6)) {
      const same = movement.truth.contacts.filter(({ type }) => type === contact.type);
      const nearest = same.reduce((a, b) => (Math.abs(b.t - contact.t) < Math.abs(a.t - contact.t) ? b : a));
      expect(contact.side).toBe(nearest.side);
    }
    contacts.forEach((each, k) => expect(k === 0 || each.t >= contacts[k - 1]!.t).toBe(true));
  });

  test('without a take-off names none', () => {
    const { told } = play(5, 'run-up', [{ kind: 'run-up', steps: 14, topSpeedMps: 6 }]);
    expect(told.length).toBeGreaterThan(10);
    for (const { summary } of told) expect(summary.runUp[0]).toMatchObject({ takeOff: null, landing: null });
  });
});

describe('a landing', () => {
  test('is shown when its peaks are over, with the feet that the task says', () => {
    const { movement, told } = play(1, 'landing-right', [{ kind: 'jump', flightS: 0.45, landing: 'right' }]);
    const [truth] = movement.truth.landings;
    const first = told.find(({ summary }) => summary.landing.length > 0)!;
    expect(first.endS - truth!.t).toBeGreaterThan(LANDING.peakS - FLIGHT_S);
    expect(first.endS - truth!.t).toBeLessThan(LANDING.peakS + FLIGHT_S + TICK_S + 0.1);
    expect(first.summary.landing[0]).toMatchObject({ feet: 'right', settleS: null });
    expect(told.at(-1)!.summary.landing[0]!.settleS).toBeGreaterThan(0);
  });
});

describe('a half-turn', () => {
  test.each(['left', 'right'] as const)('to the %s shows the separation now and at its largest', (direction) => {
    const { movement, told } = play(1, 'half-turn', [{ kind: 'half-turn', direction }]);
    const [turn] = movement.truth.halfTurns;
    const { angles } = movement.truth;
    const separation = angles.trunkHeadingDeg.map((deg, i) => deg - angles.pelvisHeadingDeg[i]!);
    const zero = meanBetween(angles.t, separation, turn!.onsetS - 0.5, turn!.onsetS);
    // What the two headings drift apart within some seconds, and how the chest's own tilt shows in its heading.
    const slackDeg = 3 * STAND.headingDriftDegPerS * 3 + 1;
    const during = told.filter(({ endS }) => endS > turn!.onsetS + 0.2 && endS < turn!.endS);
    expect(during.length).toBeGreaterThan(0);
    for (const message of during) {
      const wanted = meanBetween(angles.t, separation, message.endS - 0.005, message.endS + 0.005) - zero;
      expect(Math.abs(nowOf(message, 'half-turn').separationDeg! - wanted)).toBeLessThan(slackDeg);
    }
    const whole = [...separation].filter((_, i) => angles.t[i]! >= turn!.onsetS && angles.t[i]! < turn!.endS);
    const largest = nowOf(told.at(-1)!, 'half-turn').largestSeparationDeg!;
    expect(Math.abs(largest.left - Math.max(...whole.map((deg) => deg - zero)))).toBeLessThan(slackDeg);
    expect(Math.abs(largest.right - Math.max(...whole.map((deg) => zero - deg)))).toBeLessThan(slackDeg);
    expect(told.at(-1)!.summary.halfTurn.map((each) => each.direction)).toEqual([direction]);
  });
});
