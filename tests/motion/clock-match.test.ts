/** Two sensors with clocks of their own, related by movement that both feel. */
import { describe, expect, it } from 'vitest';
import { realistic } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { matchClocks, type ClockRelation, type SharedMovement } from '../../server/src/motion/clock-match.ts';
import { GRAVITY_NOMINAL } from '../../server/src/motion/mount.ts';
import { rotate } from '../../server/src/motion/quaternion.ts';
import { fuseAll, samplesOf } from './drive.ts';
import { clockErrorSMax } from './goals.ts';
import { LEAD_IN, sessionOf } from './sessions.ts';

const OFFSET_S = 0.37;
const SKEW_PPM = 80;

/** What is left between the clocks at a moment of the pelvis's, s. */
function errorS(relation: ClockRelation, offsetS: number, skewPpm: number, atS: number): number {
  const sternumS = offsetS + (1 + skewPpm * 1e-6) * atS;
  return sternumS + relation.offsetS + relation.skew * (sternumS - relation.atS) - atS;
}

describe('one movement, felt alike', () => {
  const vertical = (t: number): number =>
    3 * Math.sin(11 * t) + 2 * Math.sin(17.3 * t + 1) * Math.sin(1.1 * t) + 1.5 * Math.sin(23 * t + 0.3 * Math.sin(t));
  const turning = (t: number): number => 1 + Math.sin(1.3 * t) + Math.sin(2.7 * t + Math.sin(0.2 * t));
  const sample = (rateHz: number, phaseS: number, clock: (t: number) => number): SharedMovement => {
    const times = Array.from({ length: 60 * rateHz }, (_, i) => phaseS + i / rateHz);
    return { t: times.map(clock), vertical: times.map(vertical), turning: times.map(turning) };
  };

  it.each([
    { offsetS: OFFSET_S, skewPpm: SKEW_PPM },
    { offsetS: -OFFSET_S, skewPpm: -SKEW_PPM },
    { offsetS: -1.9, skewPpm: -200 },
    { offsetS: 0, skewPpm: 0 },
  ])('gives offset $offsetS s and skew $skewPpm ppm to a tenth of a sample', ({ offsetS, skewPpm }) => {
    const pelvis = sample(200, 0, (t) => t);
    const sternum = sample(200, 0.0017, (t) => offsetS + (1 + skewPpm * 1e-6) * t);
    const relation = matchClocks(pelvis, sternum)!;
    for (const atS of [0, 30, 60]) expect(Math.abs(errorS(relation, offsetS, skewPpm, atS))).toBeLessThan(0.1 / 200);
  });

  it('gives nothing where one of them rests, or where they feel different things', () => {
    const pelvis = sample(200, 0, (t) => t);
    const resting = { ...pelvis, vertical: pelvis.t.map(() => 0), turning: pelvis.t.map(() => 0) };
    expect(matchClocks(pelvis, resting)).toBeNull();
    const other = { ...pelvis, vertical: pelvis.t.map((t) => 3 * Math.sin(29 * t + Math.sin(3 * t))) };
    expect(matchClocks(pelvis, other)).toBeNull();
  });

  it('gives nothing for two recordings that do not overlap', () => {
    const pelvis = sample(200, 0, (t) => t);
    expect(
      matchClocks(
        pelvis,
        sample(200, 0, (t) => t + 1000),
      ),
    ).toBeNull();
    expect(matchClocks(pelvis, { t: [], vertical: [], turning: [] })).toBeNull();
  });
});

describe('a worn pair of sensors', () => {
  const GAITS = {
    walk: { kind: 'walk', seconds: 50, cadencePerMin: 108 },
    run: { kind: 'run', seconds: 50, cadencePerMin: 170, speedMps: 3.5 },
  } as const;

  function relationOf(gait: keyof typeof GAITS, seed: number, hasLeadIn: boolean) {
    const clock = { offsetS: OFFSET_S, skewPpm: SKEW_PPM, phaseS: 0.0013 };
    const sensors = { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed + 50, { clock }) };
    const rest = { kind: 'pause', seconds: 3 } as const;
    const session = sessionOf(seed, [...(hasLeadIn ? LEAD_IN : [rest]), GAITS[gait], rest], sensors);
    const movement = (place: 'pelvis' | 'sternum'): SharedMovement => {
      const poses = fuseAll(samplesOf(session.streams[place]!), session.rateHz).final;
      return {
        t: poses.map((s) => s.tS),
        vertical: poses.map((s) => rotate(s.orientation, s.ax, s.ay, s.az)[2] - GRAVITY_NOMINAL),
        turning: poses.map((s) => Math.hypot(s.gx - s.biasX, s.gy - s.biasY, s.gz - s.biasZ)),
      };
    };
    return { relation: matchClocks(movement('pelvis'), movement('sternum')), clock: session.truth.clock };
  }

  const bound = (gait: keyof typeof GAITS): number => clockErrorSMax(GAITS[gait].cadencePerMin / 120);

  it.each([
    { gait: 'walk', seed: 1 },
    { gait: 'walk', seed: 2 },
    { gait: 'run', seed: 1 },
    { gait: 'run', seed: 2 },
  ] as const)(
    'is brought into step closely enough for the lean of a stance: $gait, athlete $seed',
    ({ gait, seed }) => {
      const { relation, clock } = relationOf(gait, seed, true);
      for (const atS of [0, 35, 70]) {
        expect(Math.abs(errorS(relation!, clock.sternumOffsetS, clock.sternumSkewPpm, atS))).toBeLessThan(bound(gait));
      }
    },
  );

  // Steps repeat: a step off, the lean over one foot would be counted for the other.
  it.each([
    { gait: 'walk', seed: 1 },
    { gait: 'run', seed: 1 },
    { gait: 'run', seed: 2 },
  ] as const)('is in step or refused, never a step off, without a lead-in: $gait, athlete $seed', ({ gait, seed }) => {
    const { relation, clock } = relationOf(gait, seed, false);
    const error = relation === null ? 0 : errorS(relation, clock.sternumOffsetS, clock.sternumSkewPpm, 30);
    expect(Math.abs(error)).toBeLessThan(bound(gait));
  });
});
