/** Standing on one leg, turning, jumping and bounding of the synthetic athlete: physics, signs, and the truth told. */
import { describe, expect, it } from 'vitest';
import {
  exampleAthlete,
  ideal,
  randomAthlete,
  simulateSession,
  symmetricAthlete,
  type AthleteProfile,
  type ScriptStep,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { simulateBody } from '../../firmware-protocol/virtual-sensor/athlete/body.ts';
import { GRAVITY_MPS2 } from '../../firmware-protocol/virtual-sensor/athlete/plan.ts';
import { layOut } from '../../firmware-protocol/virtual-sensor/athlete/timeline.ts';

const SEEDS = [1, 2, 3, 4, 5, 6];
const STRIDES: ScriptStep = { kind: 'strides', speedMps: 4.6, lengthsM: [2.1, 1.9, 2.4, 2, 2.3, 1.8, 2.4, 2.2] };
const ACTS: ScriptStep[] = [
  { kind: 'single-leg-stand', side: 'left', holdsS: [5, 4] },
  { kind: 'single-leg-stand', side: 'right', holdsS: [6], fallsAtEnd: true },
  { kind: 'half-turn', direction: 'left' },
  { kind: 'half-turn', direction: 'right', flightS: 0.42 },
  { kind: 'jump', flightS: 0.45, landing: 'left' },
  { kind: 'jump', flightS: 0.3, landing: 'both' },
];

function bodyOf(script: ScriptStep[], seed: number) {
  const pause: ScriptStep = { kind: 'pause', seconds: 1 };
  const timeline = layOut([pause, ...script.flatMap((step) => [step, pause])], randomAthlete(seed), seed);
  return { timeline, body: simulateBody(timeline, randomAthlete(seed), seed) };
}

function session(athlete: AthleteProfile, script: ScriptStep[], seed = 1) {
  const pause: ScriptStep = { kind: 'pause', seconds: 1 };
  const sensors = { pelvis: ideal('pelvis'), sternum: ideal('sternum') };
  return simulateSession({ seed, athlete, script: [pause, ...script.flatMap((step) => [step, pause])], sensors });
}

describe('forces of standing, turning and jumping', () => {
  it.each(SEEDS)('never pull, and leave the athlete as high and as still as before (seed %d)', (seed) => {
    const { centreOfMass: com } = bodyOf([...ACTS, STRIDES], seed).body;
    const end = com.count - 1;
    expect(Math.min(...com.forceY)).toBeGreaterThan(-1e-6);
    for (const v of [com.velocityX, com.velocityY, com.velocityZ]) expect(Math.abs(v[end]!)).toBeLessThan(1e-6);
    expect(Math.abs(com.y[end]!)).toBeLessThan(1e-5);
  });

  it('bear nothing in the air, and the flight is that of a thrown stone', () => {
    const { timeline, body } = bodyOf([{ kind: 'jump', flightS: 0.45, landing: 'both' }], 1);
    const { takeOffS, touchS } = timeline.acts[0]!.leap!;
    const com = body.centreOfMass;
    const [off, on] = [Math.round(takeOffS / body.dt), Math.round(touchS / body.dt)];
    for (let g = off; g <= on; g++) expect(Math.abs(com.forceY[g]!)).toBeLessThan(1e-9);
    expect(com.velocityY[off]! - com.velocityY[on]!).toBeCloseTo(GRAVITY_MPS2 * 0.45, 9);
    const rise = Math.max(...com.y.subarray(off, on)) - com.y[off]!;
    expect(rise).toBeCloseTo(com.velocityY[off]! ** 2 / (2 * GRAVITY_MPS2), 5);
  });
});

describe('the truth of a single-leg stand', () => {
  it('has the drop on the side of the profile: left foot, right hip low, and the trunk over the foot', () => {
    const athlete = exampleAthlete(1);
    athlete.acts.singleLeg.correctionsPerMin = { left: 0, right: 0 };
    const { truth } = session(athlete, [
      { kind: 'single-leg-stand', side: 'left', holdsS: [20] },
      { kind: 'single-leg-stand', side: 'right', holdsS: [20] },
    ]);
    const [left, right] = truth.singleLegStands.map((s) => s.holds[0]!);
    // Sway of half a degree over some twenty independent values, and the way into the posture.
    expect(Math.abs(left!.swingSideHeightDeg - -4)).toBeLessThan(0.4);
    expect(Math.abs(right!.swingSideHeightDeg - 2)).toBeLessThan(0.4);
    expect(Math.abs(left!.leanToStanceDeg - 5)).toBeLessThan(0.5);
    const { t, pelvicObliquityDeg } = truth.angles;
    const during = pelvicObliquityDeg.filter((_, k) => t[k]! > left!.startS && t[k]! < left!.endS);
    // A drop of the right hip in a left stance is negative: right side down.
    expect(during.reduce((a, b) => a + b, 0) / during.length).toBeCloseTo(left!.swingSideHeightDeg, 2);
  });

  it('shifts the pelvis over the standing foot, and ends a hold with the touch of the free one', () => {
    for (const side of ['left', 'right'] as const) {
      const { truth } = session(randomAthlete(2), [{ kind: 'single-leg-stand', side, holdsS: [6, 3] }], 2);
      const [stand] = truth.singleLegStands;
      expect(stand!.holds.map((h) => [h.heldS, h.fell])).toEqual([
        [expect.closeTo(6, 9), true],
        [expect.closeTo(3, 9), false],
      ]);
      const { t } = truth.angles;
      const at = (s: number) => truth.motion.pelvis.z[t.findIndex((x) => x >= s)]!;
      const [hold] = stand!.holds;
      const way = at(hold!.startS + 2) - at(stand!.startS);
      expect(Math.sign(way)).toBe(side === 'right' ? 1 : -1);
      expect(Math.abs(way)).toBeGreaterThan(0.05);
      expect(truth.contacts.every((c) => c.side !== side)).toBe(true);
      expect(truth.contacts.map((c) => c.t)).toEqual(stand!.holds.flatMap((h) => [h.startS, h.endS]));
    }
  });

  it('is the same on both sides for a symmetric athlete, but for chance', () => {
    const athlete = symmetricAthlete(3);
    athlete.acts.singleLeg.correctionsPerMin = { left: 0, right: 0 };
    const { truth } = session(athlete, [
      { kind: 'single-leg-stand', side: 'left', holdsS: [30] },
      { kind: 'single-leg-stand', side: 'right', holdsS: [30] },
    ]);
    const [left, right] = truth.singleLegStands.map((s) => s.holds[0]!);
    expect(Math.abs(left!.swingSideHeightDeg - right!.swingSideHeightDeg)).toBeLessThan(0.5);
    expect(Math.abs(left!.leanToStanceDeg - right!.leanToStanceDeg)).toBeLessThan(0.5);
  });
});

describe('the truth of a half-turn', () => {
  it.each(['left', 'right'] as const)(
    'to the %s: half a turn, the leading segment first, out and back',
    (direction) => {
      const athlete = randomAthlete(4);
      for (const leads of ['pelvis', 'chest'] as const) {
        athlete.acts.halfTurn.leads[direction] = leads;
        const { truth } = session(athlete, [{ kind: 'half-turn', direction }], 4);
        const [turn] = truth.halfTurns;
        expect(turn!.turnDeg).toBeCloseTo(180, 0);
        expect(turn!.endS - turn!.onsetS).toBeCloseTo(athlete.acts.halfTurn.seconds[direction], 9);
        const style = athlete.acts.halfTurn;
        expect(Math.sign(turn!.separationOutDeg)).toBe(leads === 'chest' ? 1 : -1);
        // Sway turns the trunk by a little.
        expect(Math.abs(Math.abs(turn!.separationOutDeg) - style.separationOutDeg[direction])).toBeLessThan(1);
        expect(Math.abs(turn!.separationBackDeg - style.separationBackDeg[direction])).toBeLessThan(1);
        const { pelvisHeadingDeg } = truth.angles;
        expect(Math.sign(pelvisHeadingDeg.at(-1)! - pelvisHeadingDeg[0]!)).toBe(direction === 'left' ? 1 : -1);
      }
    },
  );

  it('has no foot event on the ground, and both feet off and on when it is jumped', () => {
    const { truth } = session(randomAthlete(5), [
      { kind: 'half-turn', direction: 'left' },
      { kind: 'half-turn', direction: 'right', flightS: 0.4 },
    ]);
    expect(truth.contacts.map((c) => c.type)).toEqual(['toe_off', 'toe_off', 'initial_contact', 'initial_contact']);
    expect(truth.halfTurns.map((t) => t.flightS)).toEqual([0, expect.closeTo(0.4, 9)]);
    expect(truth.landings).toHaveLength(1);
  });
});

describe('strides', () => {
  it('go from mark to mark: lengths as asked for, times that differ, and long flights', () => {
    const { truth } = session(randomAthlete(2), [STRIDES], 2);
    const asked = (STRIDES as { lengthsM: number[] }).lengthsM;
    // After the four steps that gather speed.
    const bounds = truth.stances.filter((s) => s.task === 'strides').slice(4, 4 + asked.length);
    expect(Math.min(...bounds.map((s) => s.flightTimeS))).toBeGreaterThan(0.13);
    bounds.forEach((s, k) => {
      // Step times, their ratio of sides and the speed scatter by a percent or two each, twice that at times.
      expect(Math.abs(s.stepLengthM / asked[k]! - 1)).toBeLessThan(0.08);
      if (k > 0) expect(s.side).not.toBe(bounds[k - 1]!.side);
    });
    const times = bounds.map((s) => s.stepTimeS);
    expect(Math.max(...times) / Math.min(...times)).toBeGreaterThan(1.15);
  });
});
