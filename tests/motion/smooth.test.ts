/** The pose from both ends, as the final analysis uses it. */
import { DEG_PER_RAD } from '@ambipede/shared';
import { describe, expect, it } from 'vitest';
import { realistic } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { startFusion } from '../../server/src/motion/fuse.ts';
import { fromRotationVector, IDENTITY, rotate, type Vector } from '../../server/src/motion/quaternion.ts';
import { smoothPoses } from '../../server/src/motion/smooth.ts';
import type { FusedSample } from '../../server/src/motion/types.ts';
import { largestTiltErrorDeg, tiltErrorDeg, turnInPlace } from './constructions.ts';
import { drive, fuseAll, lateralErrors, samplesOf } from './drive.ts';
import { FALSE_FRONTAL_MEAN_DEG } from './goals.ts';
import { LEAD_IN, RUN_UP_AND_CURVE, runUpAndCurve, sessionOf } from './sessions.ts';

const RATE_HZ = 200;

describe('smoothing', () => {
  const session = runUpAndCurve(3, { pelvis: realistic('pelvis', 3) });
  const { live, final } = fuseAll(samplesOf(session.streams.pelvis), session.rateHz);

  it('loses and moves no sample, and changes no measured value', () => {
    expect(final).toHaveLength(live.length);
    const measured = ({ tS, ax, ay, az, gx, gy, gz, filled, fresh }: FusedSample) =>
      [tS, ax, ay, az, gx, gy, gz, filled, fresh].join();
    expect(final.filter((s, i) => measured(s) !== measured(live[i]!))).toEqual([]);
  });

  it('leaves no pose less sure than it was, and every one finite and of unit length', () => {
    expect(final.filter((s, i) => !(s.tiltSigma <= live[i]!.tiltSigma))).toEqual([]);
    const length = ({ orientation: { w, x, y, z } }: FusedSample): number => Math.hypot(w, x, y, z);
    expect(final.filter((s) => !(Math.abs(length(s) - 1) < 1e-9))).toEqual([]);
  });

  it('does not change the input', () => {
    const before = structuredClone(live.slice(0, 50));
    smoothPoses(live, startFusion(RATE_HZ), RATE_HZ);
    expect(live.slice(0, 50)).toEqual(before);
  });

  it('keeps the heading of the forward pass where the tilt is the same', () => {
    const exact = turnInPlace(IDENTITY, [{ seconds: 3 }, { seconds: 1, rate: [0, 0, 1] }, { seconds: 3 }], RATE_HZ);
    const poses = fuseAll(exact, RATE_HZ);
    const headingDeg = (k: 'live' | 'final'): number => {
      const [x, y] = rotate(poses[k].at(-1)!.orientation, 1, 0, 0);
      return Math.atan2(y, x) * DEG_PER_RAD;
    };
    expect(headingDeg('final')).toBeCloseTo(headingDeg('live'), 6);
  });
});

describe('a bias that is known only from the end', () => {
  // Movement from the first sample on, then rest: live can know the bias only there, the final analysis everywhere.
  const bias: Vector = [0.015, -0.02, 0.01];
  const phases = [{ seconds: 12, rate: [1.1, 0.9, -1.3] as const }, { seconds: 8 }];
  const exact = turnInPlace(IDENTITY, phases, RATE_HZ, { gyroBias: bias });
  const rms = (poses: ReturnType<typeof fuseAll>['live']): number =>
    Math.sqrt(poses.reduce((sum, pose, i) => sum + tiltErrorDeg(pose, exact[i]!.pose) ** 2, 0) / poses.length);

  it('is taken off the movement before it: the pose comes within the goal and is better than live', () => {
    const { live, final } = fuseAll(exact, RATE_HZ);
    expect(rms(final)).toBeLessThan(FALSE_FRONTAL_MEAN_DEG);
    expect(rms(final)).toBeLessThan(rms(live));
  });
});

describe('a break too long to be bridged', () => {
  it('separates: a pose before it knows nothing of one after it', () => {
    const before = turnInPlace(IDENTITY, [{ seconds: 8 }], RATE_HZ);
    const after = turnInPlace(fromRotationVector(0.5, -0.3, 0), [{ seconds: 8 }], RATE_HZ);
    const exact = [...before, ...after.map((s) => ({ ...s, tS: s.tS + 10 }))];
    const { final } = fuseAll(exact, RATE_HZ);
    expect(final.filter((s) => s.fresh)).toHaveLength(2);
    expect(largestTiltErrorDeg(final, exact)).toBeLessThan(1e-3);
  });
});

describe('run-up, take-off and curve with realistic sensors, their seat told from the lead-in', () => {
  const script = [...LEAD_IN, ...RUN_UP_AND_CURVE];

  it.each([1, 2, 3])('give no false frontal mean above the goal, live or final (athlete %d)', (seed) => {
    const session = sessionOf(seed, script, {
      pelvis: realistic('pelvis', seed),
      sternum: realistic('sternum', seed + 100),
    });
    const over: string[] = [];
    for (const place of ['pelvis', 'sternum'] as const) {
      const driven = drive(session, place);
      for (const mark of session.marks.filter((m) => m.kind.startsWith('run'))) {
        for (const when of ['live', 'final'] as const) {
          const { mean, n } = lateralErrors(session, place, driven[when], mark);
          expect(n).toBeGreaterThan(1000);
          if (Math.abs(mean) > FALSE_FRONTAL_MEAN_DEG)
            over.push(`${place} ${mark.kind} ${when} ${mean.toFixed(2)} deg`);
        }
      }
    }
    expect(over).toEqual([]);
  });
});
