/** Single-leg stands of the synthetic athlete, from the sensors to the task summary. */
import { describe, expect, it } from 'vitest';
import {
  randomAthlete,
  type AthleteProfile,
  type ScriptStep,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { AnalysisResult, Side } from '@ambipede/shared';
import { analyseRecording } from '../../server/src/analysis.ts';
import { SHIFT } from '../../server/src/tasks/weight-shift.ts';
import { FALSE_FRONTAL_MEAN_DEG } from '../motion/goals.ts';
import { recordingOf, sessionOf } from './recordings.ts';

const SEEDS = [1, 2, 3, 4, 5, 6];
/**
 * From the trunk only the weight's going over is seen, not the foot: it leaves and touches somewhere within that, so each
 * end of a hold is off by half of a shift at most.
 */
const HELD_S = SHIFT.durationS;
/** The mean is taken without the shifts, the truth with them: some 5 deg over 0.3 s at each end of 6 s. */
const ENDS_DEG = 0.4;
/** Of the angles of ideal sensors: the athlete's own sway in the reference stand makes the zero. */
const IDEAL_DEG = 0.3;
const SCRIPT: ScriptStep[] = [
  { kind: 'single-leg-stand', side: 'left', holdsS: [12] },
  { kind: 'pause', seconds: 2 },
  { kind: 'single-leg-stand', side: 'right', holdsS: [8, 3] },
  { kind: 'pause', seconds: 2 },
  { kind: 'single-leg-stand', side: 'left', holdsS: [6], fallsAtEnd: true },
];

function analyse(seed: number, sensors: 'ideal' | 'realistic', athlete: AthleteProfile = randomAthlete(seed)) {
  const session = sessionOf(seed, SCRIPT, sensors, athlete);
  const result: AnalysisResult = analyseRecording(recordingOf(session, 'single-leg-stand'));
  const truth = session.truth.singleLegStands.map(({ side, holds }) => ({
    side,
    longest: holds.reduce((best, h) => (h.heldS > best.heldS ? h : best)),
  }));
  return { result, truth, found: result.taskSummary.singleLegStand };
}

describe.each(['ideal', 'realistic'] as const)('a recorded single-leg stand, %s sensors', (sensors) => {
  const zeroDeg = sensors === 'ideal' ? IDEAL_DEG : FALSE_FRONTAL_MEAN_DEG;

  it.each(SEEDS)('has the foot, the time held, the height of the free side, lean and sway (seed %d)', (seed) => {
    const { truth, found, result } = analyse(seed, sensors);
    expect(found.map((s) => s.side)).toEqual(truth.map((s) => s.side));
    truth.forEach(({ longest }, k) => {
      const stand = found[k]!;
      expect(Math.abs(stand.heldS - longest.heldS)).toBeLessThan(HELD_S);
      expect(Math.abs(stand.swingSideHeightDeg! - longest.swingSideHeightDeg)).toBeLessThan(zeroDeg + ENDS_DEG);
      expect(Math.abs(stand.leanToStanceDeg! - longest.leanToStanceDeg)).toBeLessThan(zeroDeg + ENDS_DEG);
      if (longest.fell) return;
      // Sway is free of every zero; the ends of the hold, which the truth has too, add to it.
      expect(Math.abs(stand.sway.pelvis!.lateralRmsDeg - longest.lateralRmsDeg.pelvis)).toBeLessThan(0.2);
    });
    // A mark on the right foot is not doubted.
    expect(result.taskSummary.remarks.join(' ')).not.toMatch(/other foot/);
  });

  it.each(SEEDS)('counts the corrections, each to its side (seed %d)', (seed) => {
    const { truth, found } = analyse(seed, sensors);
    truth.forEach(({ longest }, k) => {
      if (longest.fell) return;
      const count = (side: Side): number => longest.corrections.filter((c) => c.towards === side).length;
      expect(found[k]!.corrections).toEqual({ left: count('left'), right: count('right') });
    });
  });
});

describe('a one-sided athlete on one leg', () => {
  it.each([
    ['left', -5, 1],
    ['right', 1, -5],
  ] as const)('that drops on the %s foot only, shows it there', (weak, left, right) => {
    for (const seed of SEEDS) {
      const athlete = randomAthlete(seed);
      athlete.acts.singleLeg.swingSideHeightDeg = { left, right };
      const { found } = analyse(seed, 'realistic', athlete);
      const height = (side: Side): number => found.find((s) => s.side === side)!.swingSideHeightDeg!;
      expect(height(weak)).toBeLessThan(-5 + 1);
      expect(height(weak === 'left' ? 'right' : 'left')).toBeGreaterThan(0);
    }
  });

  it('with the mark on the wrong foot is doubted', () => {
    const session = sessionOf(2, [SCRIPT[0]!], 'realistic');
    const recording = recordingOf(session, 'single-leg-stand');
    for (const mark of recording.marks) mark.kind = mark.kind.replace('stand-left', 'stand-right');
    const { remarks } = analyseRecording(recording).taskSummary;
    expect(remarks.join(' ')).toMatch(/other foot than the right one/);
  });
});

describe('standing on one leg', () => {
  it.each(SEEDS)('makes no stance of a gait (seed %d)', (seed) => {
    expect(analyse(seed, 'realistic').result.stances).toEqual([]);
  });
});
