/** How a sensor sits, told from the reference stand and the bows (BIOMECHANICS 2). */
import { DEG_PER_RAD } from '@ambipede/shared';
import { describe, expect, it } from 'vitest';
import { exampleAthlete, ideal, realistic } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { LEAD_IN as LIMITS, mountingFromLeadIn } from '../../server/src/motion/mounting-lead-in.ts';
import { IDENTITY } from '../../server/src/motion/quaternion.ts';
import { turnInPlace } from './constructions.ts';
import { drive, fuseAll, lateralErrors, within } from './drive.ts';
import { ZERO_DEG } from './goals.ts';
import { LEAD_IN, sessionOf } from './sessions.ts';

const RATE_HZ = 200;
const SCRIPT = [
  ...LEAD_IN,
  { kind: 'stand', seconds: 8 } as const,
  { kind: 'walk', seconds: 12, cadencePerMin: 108 } as const,
  { kind: 'pause', seconds: 2 } as const,
];
// Bows straight about the Z axis, so that nothing but the sensor's seat differs.
const ATHLETE = { ...exampleAthlete(1), bowAxisErrorDeg: [0, 0] as [number, number] };

const half = Math.SQRT1_2;
const SEATS = {
  'as the segment': [1, 0, 0, 0],
  'turned round, front to back': [0, 0, 1, 0],
  'upside down': [0, 1, 0, 0],
  'upside down and turned round': [0, 0, 0, 1],
  'on its edge': [half, 0, 0, half],
  crooked: [0.39875, 0.5502, 0.58688, 0.44016],
} as const;

function normed(q: readonly [number, number, number, number]): [number, number, number, number] {
  const n = Math.hypot(...q);
  return [q[0] / n, q[1] / n, q[2] / n, q[3] / n];
}

describe('a sensor on the body, any way up', () => {
  const sessionWith = (seat: keyof typeof SEATS) => {
    const mounting = normed(SEATS[seat]);
    return sessionOf(
      3,
      SCRIPT,
      { pelvis: ideal('pelvis', { mounting }), sternum: ideal('sternum', { mounting }) },
      ATHLETE,
    );
  };
  const places = ['pelvis', 'sternum'] as const;
  const reference = places.map((place) => drive(sessionWith('as the segment'), place));

  it.each(Object.keys(SEATS) as (keyof typeof SEATS)[])(
    'gives the same angles, and the same left and right: %s',
    (seat) => {
      const session = sessionWith(seat);
      places.forEach((place, i) => {
        const driven = drive(session, place);
        expect(driven.mounting.report.source).toBe('lead-in');
        // The same physics in other axes: rounding is all that may differ.
        const largest = (key: 'lateralTilt' | 'forwardTilt' | 'right' | 'forward'): number =>
          Math.max(...driven.final.map((frame, k) => Math.abs(frame[key] - reference[i]!.final[k]![key])));
        for (const key of ['lateralTilt', 'forwardTilt', 'right', 'forward'] as const) {
          expect(largest(key), key).toBeLessThan(1e-6);
        }
        const walk = session.marks.find((mark) => mark.kind === 'walk')!;
        expect(lateralErrors(session, place, driven.final, walk).rms).toBeLessThan(ZERO_DEG);
      });
    },
  );
});

describe('the resting lean', () => {
  // This athlete stands free with the right hip 1.5 deg low and the trunk 1.8 deg to the left.
  const lean = ATHLETE.restingLean;

  it('of this athlete is not zero', () => {
    expect(lean.pelvicObliquityDeg).toBe(-1.5);
    expect(lean.trunkLateralTiltDeg).toBe(1.8);
  });

  it.each([1, 2, 3])('is seen in the free stand, not zeroed away, with realistic sensors (%d)', (seed) => {
    const session = sessionOf(
      seed,
      SCRIPT,
      { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed + 100) },
      ATHLETE,
    );
    const stand = session.marks.find((mark) => mark.kind === 'stand')!;
    for (const place of ['pelvis', 'sternum'] as const) {
      const { final } = drive(session, place);
      const frames = within(final, stand);
      const mean = (frames.reduce((sum, f) => sum + f.lateralTilt, 0) / frames.length) * DEG_PER_RAD;
      expect(Math.sign(mean)).toBe(place === 'pelvis' ? -1 : 1);
      expect(Math.abs(lateralErrors(session, place, final, stand).mean)).toBeLessThan(ZERO_DEG);
    }
  });

  it('is zeroed away when a free stand is called the reference, as the caution says', () => {
    const session = sessionOf(1, SCRIPT, { pelvis: ideal('pelvis') }, ATHLETE);
    const stand = session.marks.find((mark) => mark.kind === 'stand')!;
    const marks = session.marks.map((m) => (m.kind === 'reference_stand' ? { ...stand, kind: m.kind } : m));
    const { final } = drive({ ...session, marks }, 'pelvis');
    expect(Math.abs(lateralErrors(session, 'pelvis', final, stand).mean)).toBeGreaterThan(1);
  });
});

describe('a lead-in that is not good enough', () => {
  const rest = fuseAll(turnInPlace(IDENTITY, [{ seconds: 6 }], RATE_HZ), RATE_HZ).final;
  /** Three bows about an axis of the sensor, by so many degrees, with one second of rest after each. */
  const bows = (axis: readonly [number, number, number], deg: number) => {
    const rate = (deg / DEG_PER_RAD / 1.5) as number;
    const down = axis.map((v) => v * rate) as [number, number, number];
    const up = down.map((v) => -v) as [number, number, number];
    const phases = [1, 2, 3].flatMap(() => [{ seconds: 1.5, rate: down }, { seconds: 1.5, rate: up }, { seconds: 1 }]);
    const exact = turnInPlace(IDENTITY, [{ seconds: 3 }, ...phases], RATE_HZ);
    return fuseAll(exact, RATE_HZ).final.slice(3 * RATE_HZ);
  };

  it('is taken when the bows are deep and straight', () => {
    const { mounting, problem } = mountingFromLeadIn(rest, bows([0, 1, 0], 40), RATE_HZ);
    expect(problem).toBeNull();
    expect(mounting!.report.remarks).toEqual([]);
    expect(mounting!.report.details['bowDepthDeg']).toBeCloseTo(40, 1);
  });

  it('is refused with what to do when the bows are too shallow', () => {
    const { mounting, problem } = mountingFromLeadIn(rest, bows([0, 1, 0], 6), RATE_HZ);
    expect(mounting).toBeNull();
    expect(problem).toMatch(/repeat three slow, deep bows/);
  });

  it('is remarked on and less sure when nobody stood still', () => {
    const swaying = rest.map((s) => ({ ...s, still: false }));
    const report = mountingFromLeadIn(swaying, bows([0, 1, 0], 40), RATE_HZ).mounting!.report;
    expect(report.remarks.join(' ')).toMatch(/repeat it/);
    expect(report.frontalUncertaintyDeg).toBeGreaterThan(LIMITS.frontalUncertaintyDeg);
  });

  it('is refused with what to do when nobody stood for two seconds, or all was restless', () => {
    const restless = rest.map((s) => ({ ...s, still: false, gx: 2 }));
    for (const stand of [restless, rest.slice(0, 300), []]) {
      const { mounting, problem } = mountingFromLeadIn(stand, bows([0, 1, 0], 40), RATE_HZ);
      expect(mounting).toBeNull();
      expect(problem).toMatch(/repeat it/);
    }
  });

  it('is remarked on when the bows lean to one side', () => {
    const { mounting } = mountingFromLeadIn(rest, bows([0, Math.cos(0.4), Math.sin(0.4)], 40), RATE_HZ);
    expect(mounting!.report.remarks.join(' ')).toMatch(/repeat them/);
  });
});
