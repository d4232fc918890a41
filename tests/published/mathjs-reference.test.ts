/** Our few lines of statistics and the bows' principal axis against mathjs, a general-purpose library. */
import { eigs, mean, multiply, std, transpose } from 'mathjs';
import { describe, expect, it } from 'vitest';
import { meanOf, sdOf } from '../../server/src/asymmetry/moments.ts';
import { seededRandom } from '../support/seeded-random.ts';
import { axisOfBows } from '../../server/src/motion/mounting-lead-in.ts';
import { dot, fromRotationVector, multiply as turn, type Vector } from '../../server/src/motion/quaternion.ts';
import type { FusedSample } from '../../server/src/motion/types.ts';

describe('mean and standard deviation', () => {
  it('agree with mathjs on random values', () => {
    const random = seededRandom(4);
    for (const n of [2, 3, 7, 50]) {
      const values = Array.from({ length: n }, () => 100 * random() - 30);
      expect(meanOf(values)).toBeCloseTo(mean(values), 10);
      expect(sdOf(values)).toBeCloseTo(Number(std(values)), 10);
    }
  });
});

describe('the axis of the bows', () => {
  it('is the first eigenvector, by mathjs, of the turning rates within the horizontal plane', () => {
    const random = seededRandom(11);
    const up: Vector = [0, 0, 1];
    const axis: Vector = [Math.cos(0.4), Math.sin(0.4), 0];
    const bows: FusedSample[] = Array.from({ length: 400 }, (_, i) => {
      const angle = 0.6 * (1 - Math.cos(i / 15));
      const noise = (): number => 0.2 * (random() - 0.5);
      const rate = 1.2 * Math.sin(i / 15);
      return {
        tS: i / 100,
        ax: 0,
        ay: 0,
        az: 9.81,
        gx: rate * axis[0] + noise(),
        gy: rate * axis[1] + noise(),
        gz: noise(),
        filled: false,
        fresh: i === 0,
        orientation: turn(fromRotationVector(axis[0] * angle, axis[1] * angle, 0), { w: 1, x: 0, y: 0, z: 0 }),
        biasX: 0,
        biasY: 0,
        biasZ: 0,
        still: false,
        tiltSigma: 0.01,
      };
    });
    const rows = bows.map((s) => [s.gx, s.gy]);
    const covariance = multiply(transpose(rows), rows) as number[][];
    const { eigenvectors } = eigs(covariance);
    const largest = [...eigenvectors].sort((a, b) => Number(b.value) - Number(a.value))[0]!.vector as number[];
    const found = axisOfBows(bows, up)!;
    expect(Math.abs(dot(found.right, [largest[0]!, largest[1]!, 0]))).toBeCloseTo(1, 9);
  });
});
