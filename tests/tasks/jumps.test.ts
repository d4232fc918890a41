/** Run-ups with a take-off and landings: the synthetic athlete's truth, and written-down movements. */
import { describe, expect, it } from 'vitest';
import type { ScriptStep } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { STANDARD_GRAVITY_MPS2, type AnalysisResult, type Side } from '@ambipede/shared';
import { analyseRecording } from '../../server/src/analysis.ts';
import { flightsIn } from '../../server/src/tasks/flights.ts';
import { LANDING, measureLanding } from '../../server/src/tasks/landing.ts';
import { summariseTasks } from '../../server/src/tasks/summary.ts';
import { ease, framesOf } from './frames.ts';
import { recordingOf, sessionOf } from './recordings.ts';

/** Flight times from the sacrum have an RMSE of 20 ms (Patoz et al. 2022, Sensors 22:784); a single one, twice that. */
const FLIGHT_S = 0.04;

function runUp(side: Side, landing: Side | 'both'): ScriptStep {
  return { kind: 'run-up', steps: 14, topSpeedMps: 7, takeOff: { side, flightS: 0.5, landing } };
}

describe('a run-up of the synthetic athlete, with realistic sensors', () => {
  it.each([
    [1, 'left', 'both'],
    [2, 'right', 'both'],
    [3, 'left', 'right'],
    [4, 'right', 'left'],
  ] as const)('names the foot that took off, flight and landing (seed %d, %s to %s)', (seed, side, landing) => {
    const session = sessionOf(seed, [runUp(side, landing)], 'realistic');
    const result: AnalysisResult = analyseRecording(recordingOf(session, 'run-up'));
    const [found] = result.taskSummary.runUp;
    const [truth] = session.truth.takeOffs;
    expect(found!.takeOff!.side).toBe(side);
    expect(Math.abs(found!.takeOff!.t - truth!.t)).toBeLessThan(FLIGHT_S);
    expect(Math.abs(found!.takeOff!.flightTimeS - truth!.flightS)).toBeLessThan(FLIGHT_S);
    expect(Math.abs(found!.landing!.t - (truth!.t + truth!.flightS))).toBeLessThan(FLIGHT_S);
    // What cannot be told from pelvis and chest is not told.
    expect(found!.landing!.feet).toBeNull();
    expect(result.taskSummary.remarks.join(' ')).toMatch(/one or two feet/);

    const stance = result.stances.find((s) => s.id === found!.takeOff!.stanceId);
    expect(stance).toMatchObject({ side, contactTimeS: found!.takeOff!.contactTimeS });
    const last = found!.lastStances.map((id) => result.stances.find((s) => s.id === id)!);
    expect(last.length).toBe(6);
    for (const s of last) expect(s.initialContact).toBeLessThan(stance!.initialContact);
    expect(last.at(-1)!.side).not.toBe(side);

    // What the sensor felt after the touch, as the true motion has it, is a push of some g; softer than 16 g, its range.
    expect(found!.landing!.peakVerticalAccelerationG.pelvis).toBeGreaterThan(1);
    expect(found!.landing!.peakVerticalAccelerationG.pelvis).toBeLessThan(16);
  });

  it('tells no take-off where there was none', () => {
    const session = sessionOf(5, [{ kind: 'run-up', steps: 14, topSpeedMps: 6 }], 'realistic');
    const { taskSummary } = analyseRecording(recordingOf(session, 'run-up'));
    expect(taskSummary.runUp[0]).toMatchObject({ takeOff: null, landing: null });
    expect(taskSummary.remarks.join(' ')).toMatch(/take-off cannot be told/);
  });
});

const G = STANDARD_GRAVITY_MPS2;
const TOUCH_S = 3.4;
/** Standing, a hop of 0.4 s, a push of 3 g in 0.2 s, then rocking that dies away at 5 s, then quiet. */
const hop = framesOf(8, {
  pelvisUp: (t) => {
    if (t > 3 && t < TOUCH_S) return -G;
    if (t >= TOUCH_S && t < TOUCH_S + 0.2) return 3 * G * Math.sin((Math.PI * (t - TOUCH_S)) / 0.2);
    return 0;
  },
  sternumUp: (t) => (t >= TOUCH_S && t < TOUCH_S + 0.2 ? 2 * G * Math.sin((Math.PI * (t - TOUCH_S)) / 0.2) : 0),
  pelvisRight: (t) => (t > TOUCH_S && t < 5 ? 1.2 : 0),
  yawRateDegPerS: (t) => (Math.abs(t - TOUCH_S - 0.1) < 0.02 ? -150 : 10),
  trunkYawRateDegPerS: (t) => (Math.abs(t - TOUCH_S - 0.1) < 0.02 ? 90 : 0),
  obliquityDeg: (t) => -5 * ease(t, TOUCH_S, TOUCH_S + 0.2),
  trunkTiltDeg: (t) => 7 * ease(t, TOUCH_S, TOUCH_S + 0.2),
});

describe('a landing', () => {
  it('has its peaks, the turning with no sign, the tilts with theirs, and the time to settle', () => {
    const landing = measureLanding(hop, { t: TOUCH_S, feet: 'both' }, 8);
    expect(landing.feet).toBe('both');
    expect(landing.peakVerticalAccelerationG.pelvis).toBeCloseTo(3, 2);
    expect(landing.peakVerticalAccelerationG.sternum).toBeCloseTo(2, 2);
    expect(landing.kneeTwistProxyDegPerS).toEqual({ pelvis: 150, trunk: 90 });
    expect(landing.peakTiltDeg.pelvis).toBeCloseTo(-5, 6);
    expect(landing.peakTiltDeg.trunk).toBeCloseTo(7, 6);
    // Rocking ends at 5 s.
    expect(Math.abs(landing.settleS! - (5 - TOUCH_S))).toBeLessThan(0.1);
  });

  it('has not settled when the span ends too soon, or a gap comes first', () => {
    expect(measureLanding(hop, { t: TOUCH_S, feet: null }, 5 - LANDING.afterSpanS).settleS).toBeNull();
    expect(measureLanding({ ...hop, breaks: [5.2] }, { t: TOUCH_S, feet: null }, 8).settleS).toBeNull();
  });

  it('of the pelvis sensor alone says nothing about the chest', () => {
    const alone = { ...hop, sternumUp: hop.t.map(() => NaN), trunkTiltDeg: hop.t.map(() => NaN) };
    const landing = measureLanding(alone, { t: TOUCH_S, feet: null }, 8);
    expect(landing.peakVerticalAccelerationG.sternum).toBeNull();
    expect(landing.peakTiltDeg.trunk).toBeNull();
    expect(landing.peakVerticalAccelerationG.pelvis).toBeCloseTo(3, 2);
  });
});

describe('a marked span', () => {
  const input = {
    task: 'landing',
    spanS: [0, 8] as const,
    frames: hop,
    stances: [],
    contacts: [],
    mounting: { pelvis: null, sternum: null },
  };

  it('tells the feet of a landing that the coach marked', () => {
    for (const feet of ['left', 'right', 'both'] as const) {
      const marks = [{ kind: `landing-${feet}`, startS: 2, endS: 8 }];
      const { landing, remarks } = summariseTasks({ ...input, marks });
      expect(landing).toHaveLength(1);
      expect(landing[0]!.feet).toBe(feet);
      // One frame of 5 ms: there is no contact event to take it from.
      expect(Math.abs(landing[0]!.t - TOUCH_S)).toBeLessThan(0.0051);
      expect(remarks).toEqual([]);
    }
  });

  it('without a mark is the whole span of the task, with feet unknown', () => {
    const { landing, remarks } = summariseTasks({ ...input, marks: [] });
    expect(landing[0]!.feet).toBeNull();
    expect(remarks.join(' ')).toMatch(/landing-both/);
  });

  it('without a flight has no landing, and says so; another task has no entry at all', () => {
    const { landing, remarks } = summariseTasks({ ...input, marks: [{ kind: 'landing', startS: 5, endS: 8 }] });
    expect(landing).toEqual([]);
    expect(remarks.join(' ')).toMatch(/No flight/);
    const other = summariseTasks({ ...input, task: 'run', marks: [] });
    expect(other).toEqual({ stand: [], singleLegStand: [], runUp: [], landing: [], halfTurn: [], remarks: [] });
  });

  it('of a single-leg stand gives the side by its name', () => {
    const marks = [
      { kind: 'single-leg-stand-left', startS: 0, endS: 2.5 },
      { kind: 'single-leg-stand-right', startS: 5, endS: 8 },
    ];
    const { singleLegStand } = summariseTasks({ ...input, task: 'single-leg-stand', marks });
    expect(singleLegStand.map((s) => s.side)).toEqual(['left', 'right']);
  });
});

describe('a flight', () => {
  it('is one though soft tissue swings on in it, and is none when too short', () => {
    const swinging = framesOf(2, { pelvisUp: (t) => (t > 1 && t < 1.3 ? -G + (t > 1.02 && t < 1.04 ? 8 : 0) : 0) });
    const flights = flightsIn(swinging, { from: 0, to: swinging.t.length });
    expect(flights).toHaveLength(1);
    expect(flights[0]!.endS - flights[0]!.startS).toBeGreaterThan(0.28);
    const short = framesOf(2, { pelvisUp: (t) => (t > 1 && t < 1.06 ? -G : 0) });
    expect(flightsIn(short, { from: 0, to: short.t.length })).toEqual([]);
  });
});
