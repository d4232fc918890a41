/**
 * Signs, by poses written down from axes. Segment axes of the ISB (Wu et al. 2002, J Biomech 35:543-548; Wu et al. 2005,
 * J Biomech 38:981-992): X forward, Y up, Z to the right. By the right-hand rule a positive turn about X brings the top to
 * the right, about Y turns to the left, about Z leans back.
 */
import { DEG_PER_RAD, STANDARD_GRAVITY_MPS2, type SideOrUnknown } from '@ambipede/shared';
import { describe, expect, it } from 'vitest';
import { startAngles, stepAngles } from '../../server/src/motion/angles.ts';
import { conjugate, rotate } from '../../server/src/motion/quaternion.ts';
import type { PairedFrame } from '../../server/src/motion/types.ts';
import { measureStance } from '../../server/src/stance/measure.ts';
import { addStanceFrame, startStanceFrames } from '../../server/src/stance/stance-frames.ts';
import { about, anglesOf, frameOf, poseOf, UPRIGHT } from './poses.ts';

describe('axes of a segment', () => {
  it('are right-handed, X forward, Y up, Z to the right', () => {
    expect(rotate(UPRIGHT, 1, 0, 0)).toEqual([1, 0, 0].map((v) => expect.closeTo(v, 12)));
    expect(rotate(UPRIGHT, 0, 1, 0)).toEqual([0, 0, 1].map((v) => expect.closeTo(v, 12)));
    // Facing x with z up, the right hand points to -y.
    expect(rotate(UPRIGHT, 0, 0, 1)).toEqual([0, -1, 0].map((v) => expect.closeTo(v, 12)));
  });

  it('turn by the right-hand rule: top to the right, to the left, backwards', () => {
    expect(rotate(about('x', 10), 0, 1, 0)[2]).toBeGreaterThan(0);
    expect(rotate(about('y', 10), 1, 0, 0)[2]).toBeLessThan(0);
    expect(rotate(about('z', 10), 0, 1, 0)[0]).toBeLessThan(0);
  });
});

describe('angles of pelvis and trunk', () => {
  it('are zero upright', () => {
    expect(anglesOf(UPRIGHT)).toEqual({ lateralDeg: expect.closeTo(0, 12), forwardDeg: expect.closeTo(0, 12) });
  });

  it('show the right side up as positive: the left hip is low, and a trunk leans to the left', () => {
    const pose = poseOf(about('x', -5));
    // The right end of the Z axis is above level, and the top of the trunk is to the left (+y).
    expect(rotate(pose, 0, 0, 1)[2]).toBeGreaterThan(0);
    expect(rotate(pose, 0, 1, 0)[1]).toBeGreaterThan(0);
    expect(anglesOf(pose).lateralDeg).toBeCloseTo(5, 8);
    expect(anglesOf(poseOf(about('x', 5))).lateralDeg).toBeCloseTo(-5, 8);
  });

  it('show forward tilt as positive: the top goes to the front', () => {
    const pose = poseOf(about('z', -15));
    expect(rotate(pose, 0, 1, 0)[0]).toBeGreaterThan(0);
    expect(anglesOf(pose).forwardDeg).toBeCloseTo(15, 8);
  });

  it('show a turn to the left as positive heading', () => {
    const before = frameOf(UPRIGHT).heading;
    expect((frameOf(poseOf(about('y', 20))).heading - before) * DEG_PER_RAD).toBeCloseTo(20, 8);
  });

  it('give rates with the ISB’s own signs: + right side down, + to the left, + backward', () => {
    const frame = frameOf(UPRIGHT, { gx: 0.3, gy: 0.2, gz: 0.1 });
    expect([frame.rollRate, frame.yawRate, frame.pitchRate]).toEqual([0.3, 0.2, 0.1]);
  });
});

describe('acceleration in the frame of the segment', () => {
  it('is zero at rest and points forward, up and right whatever the tilt, heading and seat of the sensor', () => {
    const pose = poseOf(about('y', 110), about('x', -12), about('z', -25));
    const mounting = about('x', 180);
    // Earth: 2 m/s^2 forward (heading 110 deg to the left of x), 3 up, 1 to the right.
    const heading = 110 / DEG_PER_RAD;
    const earth = [
      2 * Math.cos(heading) + Math.sin(heading),
      2 * Math.sin(heading) - Math.cos(heading),
      3 + STANDARD_GRAVITY_MPS2,
    ] as const;
    const sensor = rotate(conjugate(mounting), ...rotate(conjugate(pose), ...earth));
    const frame = frameOf(pose, { ax: sensor[0], ay: sensor[1], az: sensor[2] }, mounting);
    expect(frame.forward).toBeCloseTo(2, 8);
    expect(frame.up).toBeCloseTo(3, 8);
    expect(frame.right).toBeCloseTo(1, 8);
  });
});

describe('separation', () => {
  it('is positive while the chest is turned to the left of where it is on average against the pelvis', () => {
    const state = startAngles();
    const at = (tS: number, chestDeg: number): PairedFrame => ({
      tS,
      pelvis: { ...frameOf(UPRIGHT), tS, fresh: tS === 0 },
      sternum: { ...frameOf(poseOf(about('y', chestDeg))), tS, fresh: tS === 0 },
    });
    for (let i = 0; i <= 100; i += 1) stepAngles(state, at(i / 100, 0));
    expect(stepAngles(state, at(1.01, 10)).separationDeg).toBeGreaterThan(9);
    expect(stepAngles(state, at(1.02, -10)).separationDeg).toBeLessThan(-9);
  });
});

describe('values of a stance', () => {
  /** A stance of 0.2 s with constant angles; degrees, + right side up. */
  function stance(side: SideOrUnknown, obliquityDeg: number, trunkDeg: number) {
    const frames = startStanceFrames();
    const angles = startAngles();
    for (let i = 0; i <= 20; i += 1) {
      const tS = i / 100;
      const fresh = i === 0;
      const paired: PairedFrame = {
        tS,
        pelvis: { ...frameOf(poseOf(about('x', -obliquityDeg))), tS, fresh },
        sternum: { ...frameOf(poseOf(about('x', -trunkDeg))), tS, fresh },
      };
      addStanceFrame(frames, paired, stepAngles(angles, paired));
    }
    return measureStance(frames, {
      side,
      initialContactS: 0,
      toeOffS: 0.2,
      nextContactS: null,
      nextSameContactS: null,
      gait: 'run',
    });
  }

  it('call it a drop when the hip of the swing side is below level: the right one on the left foot', () => {
    expect(stance('left', -6, 0).swingSideDropDeg).toBeCloseTo(6, 8);
    expect(stance('left', -6, 0).swingSideLiftDeg).toBeCloseTo(-6, 8);
  });

  it('call the same pose a lift on the right foot, where the left hip is the swing side and is above level', () => {
    expect(stance('right', -6, 0).swingSideDropDeg).toBeCloseTo(-6, 8);
    expect(stance('right', -6, 0).swingSideLiftDeg).toBeCloseTo(6, 8);
  });

  it('call it lean to stance when the trunk leans over the standing foot: to the left on the left foot', () => {
    expect(stance('left', 0, 4).leanToStanceMeanDeg).toBeCloseTo(4, 8);
    expect(stance('right', 0, 4).leanToStanceMeanDeg).toBeCloseTo(-4, 8);
    expect(stance('right', 0, -4).leanToStancePeakDeg).toBeCloseTo(4, 8);
  });

  it('leave what needs a side unknown when the side is, and keep what does not', () => {
    const unknown = stance('unknown', -6, 4);
    expect(unknown.swingSideDropDeg).toBeNull();
    expect(unknown.leanToStanceMeanDeg).toBeNull();
    expect(unknown.contactTimeS).toBeCloseTo(0.2, 12);
  });
});
