/** Quiet and single-leg stands: written-down movements, and the synthetic athlete's resting lean. */
import { describe, expect, it } from 'vitest';
import { analyseRecording } from '../../server/src/analysis.ts';
import { CORRECTIONS } from '../../server/src/tasks/corrections.ts';
import { singleLegStand } from '../../server/src/tasks/single-leg-stand.ts';
import { quietStand, STAND } from '../../server/src/tasks/stand.ts';
import { FALSE_FRONTAL_MEAN_DEG } from '../motion/goals.ts';
import { ease, framesOf } from './frames.ts';
import { recordingOf, sessionOf } from './recordings.ts';

const SEEDS = [1, 2, 3];
const STAND_S = 15;

describe('a quiet stand of the synthetic athlete, with realistic sensors', () => {
  it.each(SEEDS)('shows the lean from the reference stand (seed %d)', (seed) => {
    const session = sessionOf(seed, [{ kind: 'stand', seconds: STAND_S }], 'realistic');
    const { taskSummary } = analyseRecording(recordingOf(session, 'stand'));
    const [stand] = taskSummary.stand;
    const { angles } = session.truth;
    const mark = session.marks.find((m) => m.kind === 'stand')!;
    const own = (column: Float64Array, from: number, to: number): number[] =>
      Array.from(column).filter((_, i) => angles.t[i]! >= from && angles.t[i]! < to);
    const mean = (values: number[]): number => values.reduce((a, b) => a + b, 0) / values.length;
    const rms = (values: number[]): number => Math.sqrt(mean(values.map((v) => (v - mean(values)) ** 2)));
    for (const [place, column] of [
      ['pelvis', angles.pelvicObliquityDeg],
      ['trunk', angles.trunkLateralTiltDeg],
    ] as const) {
      const truth = own(column, mark.startS, mark.endS);
      expect(Math.abs(stand!.restingLeanDeg[place]! - mean(truth))).toBeLessThan(FALSE_FRONTAL_MEAN_DEG);
      // The uncertainty is at least that of the zero, and states it.
      expect(stand!.restingLeanUncertaintyDeg[place]!).toBeGreaterThan(0.1);
      // A sway, in which every zero cancels, to a tenth of a degree.
      expect(Math.abs(stand!.sway[place]!.lateralRmsDeg - rms(truth))).toBeLessThan(0.1);
    }
    const turn = angles.trunkHeadingDeg.map((t, i) => t - angles.pelvisHeadingDeg[i]!);
    const reference = session.marks.find((m) => m.kind === 'reference_stand')!;
    const lead = mean(own(turn, mark.startS, mark.endS)) - mean(own(turn, reference.startS, reference.endS));
    expect(Math.abs(stand!.chestLeadDeg! - lead)).toBeLessThan(STAND.leadSigmas * stand!.chestLeadUncertaintyDeg!);
  });
});

describe('a quiet stand', () => {
  const still = framesOf(40, {
    obliquityDeg: () => -1.5,
    trunkTiltDeg: (t) => 2 + Math.sin(2 * Math.PI * t * 0.5),
    turnDeg: (t) => 100 + 12 * ease(t, 12, 14),
  });
  const span = { startS: 20, endS: 30 };
  const reference = { startS: 2, endS: 8 };

  it('has lean, sway as a root mean square, and the path that a slow wave makes', () => {
    const stand = quietStand(still, span, { pelvis: 0.5, trunk: 0.5 }, reference, []);
    expect(stand.restingLeanDeg.pelvis).toBeCloseTo(-1.5, 9);
    expect(stand.restingLeanDeg.trunk).toBeCloseTo(2, 2);
    // Sine wave of 1 deg; blocks of a tenth of a second leave 0.996 of it.
    expect(Math.abs(stand.sway.trunk!.lateralRmsDeg - Math.SQRT1_2)).toBeLessThan(0.01);
    // Four degrees in two seconds.
    expect(Math.abs(stand.sway.trunk!.pathDegPerS - 2)).toBeLessThan(0.05);
    expect(stand.sway.pelvis).toEqual({ lateralRmsDeg: 0, forwardRmsDeg: 0, pathDegPerS: 0 });
  });

  it('names the side of the chest that leads: turned to the left, the right one', () => {
    const zero = { pelvis: 0.5, trunk: 0.5 };
    expect(quietStand(still, span, zero, reference, [])).toMatchObject({ chestLeads: 'right' });
    const early = quietStand(still, { startS: 9, endS: 11 }, zero, reference, []);
    expect(early.chestLeads).toBeNull();
    expect(early.chestLeadDeg).toBeCloseTo(0, 9);
  });

  it('does not zero the lean away: without an outside zero it is not measured, and says so', () => {
    const remarks: string[] = [];
    const stand = quietStand(still, span, { pelvis: null, trunk: null }, null, remarks);
    expect(stand.restingLeanDeg).toEqual({ pelvis: null, trunk: null });
    expect(stand.chestLeads).toBeNull();
    expect(remarks.join(' ')).toMatch(/reference stand/);
    expect(stand.sway.trunk).not.toBeNull();
  });

  it('does not compare headings across a gap', () => {
    const broken = { ...still, headingBreaks: [15] };
    expect(quietStand(broken, span, { pelvis: 0.5, trunk: 0.5 }, reference, []).chestLeadDeg).toBeNull();
  });
});

describe('a single-leg stand', () => {
  const frames = framesOf(14, { obliquityDeg: () => -4, trunkTiltDeg: () => 3 });
  const span = { startS: 1, endS: 13 };

  it('is side-relative: right hip low and trunk to the left is a drop and a lean to stance on the left foot', () => {
    const left = singleLegStand(frames, span, 'left', []);
    expect([left.swingSideHeightDeg, left.leanToStanceDeg, left.sideBendDeg]).toEqual([-4, 3, 7]);
    const right = singleLegStand(frames, span, 'right', []);
    expect([right.swingSideHeightDeg, right.leanToStanceDeg, right.sideBendDeg]).toEqual([4, -3, -7]);
  });

  it('leaves the side open when nobody marked it', () => {
    const remarks: string[] = [];
    expect(singleLegStand(frames, span, null, remarks)).toMatchObject({
      side: null,
      swingSideHeightDeg: null,
      leanToStanceDeg: null,
      corrections: { left: 0, right: 0 },
    });
    expect(remarks.join(' ')).toMatch(/single-leg-stand-left/);
  });

  it('ends with a step: the longest time without one counts', () => {
    const step = framesOf(14, { pelvisUp: (t) => (t > 9 && t < 9.2 ? 6 : 0) });
    const { heldS } = singleLegStand(step, span, 'left', []);
    // From 1 s to 9 s, within the time over which the acceleration is averaged.
    expect(heldS).toBeGreaterThan(7.9);
    expect(heldS).toBeLessThan(8.1);
  });

  it('counts a correction towards the side to which the trunk tips, and not its way back', () => {
    // To the left and back at 3 s and 6 s, to the right and back at 9 s: 3 deg in 0.2 s are 15 deg/s on the mean.
    const bump = (t: number, atS: number): number => 3 * (ease(t, atS, atS + 0.2) - ease(t, atS + 0.2, atS + 0.4));
    const wobbly = framesOf(14, { trunkTiltDeg: (t) => bump(t, 3) + bump(t, 6) - bump(t, 9) });
    expect(singleLegStand(wobbly, span, 'left', []).corrections).toEqual({ left: 2, right: 1 });
  });

  it('counts none in a slow sway', () => {
    // Largest rate 2 pi f A, under the bound.
    const sway = framesOf(14, { trunkTiltDeg: (t) => 3 * Math.sin(2 * Math.PI * 0.5 * t) });
    expect(2 * Math.PI * 0.5 * 3).toBeLessThan(CORRECTIONS.beginDegPerS);
    expect(singleLegStand(sway, span, 'left', []).corrections).toEqual({ left: 0, right: 0 });
  });

  it('takes the pelvis without a sternum sensor', () => {
    const pelvisOnly = framesOf(14, { trunkTiltDeg: () => NaN, obliquityDeg: (t) => 4 * ease(t, 5, 5.2) });
    const stand = singleLegStand(pelvisOnly, span, 'right', []);
    expect(stand.corrections).toEqual({ left: 1, right: 0 });
    expect(stand.leanToStanceDeg).toBeNull();
    expect(stand.sway.trunk).toBeNull();
  });
});
