/**
 * Baker 2001 (Gait Posture 13:1-6): pelvic angles in the order rotation, obliquity, tilt. A pelvis with level hips has
 * no obliquity, whatever its rotation and tilt; the conventional order, tilt first, shows up to 10 deg of it.
 */
import { DEG_PER_RAD } from '@ambipede/shared';
import { describe, expect, it } from 'vitest';
import { rotate } from '../../server/src/motion/quaternion.ts';
import { about, anglesOf, poseOf, sequence } from './poses.ts';

/** Obliquity of the order tilt, obliquity, rotation: asin of the part of the pelvis's Y axis along the right of the room. */
function tiltFirstObliquityDeg(...turns: Parameters<typeof sequence>): number {
  return Math.asin(rotate(sequence(...turns), 0, 1, 0)[2]) * DEG_PER_RAD;
}

describe('pelvic obliquity as defined by Baker 2001', () => {
  const rotation30 = about('y', 30);
  const tiltForward20 = about('z', -20);

  it('is 0 with level hips, rotation 30 deg and tilt 20 deg', () => {
    expect(anglesOf(poseOf(rotation30, tiltForward20)).lateralDeg).toBeCloseTo(0, 10);
  });

  it('is not what the tilt-first order shows for the same pose: asin(sin 20 sin 30) = 9.8466 deg', () => {
    expect(Math.abs(tiltFirstObliquityDeg(rotation30, tiltForward20))).toBeCloseTo(9.8466, 4);
  });

  const cases = [-170, -90, -30, 0, 30, 135].flatMap((rotation) =>
    [-25, 0, 8].flatMap((obliquity) => [-40, 0, 20, 60].map((tilt) => ({ rotation, obliquity, tilt }))),
  );

  it('is the second angle of the order rotation, obliquity, tilt, for any three', () => {
    for (const { rotation, obliquity, tilt } of cases) {
      // Right side up is a negative turn about the forward axis.
      const pose = poseOf(about('y', rotation), about('x', -obliquity), about('z', -tilt));
      expect(anglesOf(pose).lateralDeg, JSON.stringify({ rotation, obliquity, tilt })).toBeCloseTo(obliquity, 8);
    }
  });

  it('comes with the forward tilt that is the third angle of that order', () => {
    for (const { rotation, obliquity, tilt } of cases) {
      const pose = poseOf(about('y', rotation), about('x', -obliquity), about('z', -tilt));
      expect(anglesOf(pose).forwardDeg, JSON.stringify({ rotation, obliquity, tilt })).toBeCloseTo(tilt, 8);
    }
  });

  it('does not depend on how the sensor sits, upside down included', () => {
    const pose = poseOf(rotation30, about('x', -8), tiltForward20);
    for (const mounting of [
      about('x', 180),
      about('y', 90),
      about('z', 180),
      sequence(about('x', 37), about('z', 101)),
    ]) {
      expect(anglesOf(pose, mounting).lateralDeg).toBeCloseTo(8, 8);
    }
  });
});
