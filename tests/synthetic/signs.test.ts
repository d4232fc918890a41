import { describe, expect, it } from 'vitest';
import { ideal, randomAthlete, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import {
  forwardTiltOf,
  fromHeadingLateralForward,
  fromRotationVector,
  headingOf,
  lateralTiltOf,
  multiply,
  rotate,
} from '../../firmware-protocol/virtual-sensor/athlete/rotation.ts';

const RAD = Math.PI / 180;

describe('signs of the synthetic athlete (ISB axes: X forward, Y up, Z right)', () => {
  it('level hips have no obliquity, whatever rotation and tilt (Baker 2001, Gait Posture 13:1-6)', () => {
    const hips = fromHeadingLateralForward(30 * RAD, 0, 20 * RAD);
    expect(lateralTiltOf(hips) / RAD).toBeCloseTo(0, 9);
    // In the tilt-first order the same angles would show asin(sin 20 sin 30) = 9.8466 deg.
    const tiltFirst = multiply(fromRotationVector([0, 0, -20 * RAD]), fromRotationVector([0, 30 * RAD, 0]));
    expect(Math.abs(lateralTiltOf(tiltFirst)) / RAD).toBeCloseTo(9.8466, 4);
  });

  it('right side up, forward and to the left are positive', () => {
    const rightUp = fromHeadingLateralForward(0, 10 * RAD, 0);
    expect(rotate(rightUp, [0, 0, 1])[1]).toBeCloseTo(Math.sin(10 * RAD), 12);
    expect(lateralTiltOf(rightUp) / RAD).toBeCloseTo(10, 9);
    const forward = fromHeadingLateralForward(0, 0, 10 * RAD);
    expect(rotate(forward, [0, 1, 0])[0]).toBeCloseTo(Math.sin(10 * RAD), 12);
    expect(forwardTiltOf(forward) / RAD).toBeCloseTo(10, 9);
    const left = fromHeadingLateralForward(10 * RAD, 0, 0);
    expect(rotate(left, [1, 0, 0])[2]).toBeCloseTo(-Math.sin(10 * RAD), 12);
    expect(headingOf(left) / RAD).toBeCloseTo(10, 9);
  });

  it('a curve to the left turns the heading up, reads a positive rate about Y, and leans the body to the left', () => {
    const { streams, truth } = simulateSession({
      seed: 1,
      athlete: randomAthlete(1),
      script: [
        {
          kind: 'run',
          seconds: 14,
          cadencePerMin: 170,
          speedMps: 4,
          curve: { direction: 'left', radiusM: 12, afterS: 5, seconds: 4 },
        },
      ],
      sensors: { pelvis: ideal('pelvis'), sternum: ideal('sternum') },
    });
    const { pelvisHeadingDeg, trunkLateralTiltDeg, pelvicObliquityDeg } = truth.angles;
    // 4 m/s for 4 s on a radius of 12 m.
    expect(pelvisHeadingDeg.at(-1)! - pelvisHeadingDeg[0]!).toBeCloseTo((4 * 4 * 180) / (12 * Math.PI), -1);
    const mean = (x: Float64Array) => x.subarray(1200, 1700).reduce((a, b) => a + b, 0) / 500;
    expect(mean(streams.pelvis.gy)).toBeGreaterThan(0.2);
    expect(mean(trunkLateralTiltDeg)).toBeGreaterThan(2);
    expect(mean(pelvicObliquityDeg)).toBeGreaterThan(2);
  });

  it('in walking the side of the leading foot is forward at its contact, within a tenth of a step or so', () => {
    const { truth } = simulateSession({
      seed: 3,
      athlete: randomAthlete(3),
      script: [{ kind: 'walk', seconds: 15, cadencePerMin: 110 }],
      sensors: { pelvis: ideal('pelvis') },
    });
    const turnAt = (side: string) =>
      truth.stances
        .filter((s) => s.steady && s.side === side)
        .map((s) => truth.angles.pelvisHeadingDeg[Math.round(s.initialContact * 200)]!);
    expect(Math.min(...turnAt('right'))).toBeGreaterThan(0);
    expect(Math.max(...turnAt('left'))).toBeLessThan(0);
  });
});
