import { describe, expect, it } from 'vitest';
import {
  demoScript,
  exampleAthlete,
  ideal,
  randomAthlete,
  realistic,
  simulateSession,
  symmetricAthlete,
  type ScriptStep,
  type TruthStance,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';

function demo(seed: number) {
  return simulateSession({
    seed,
    athlete: exampleAthlete(seed),
    script: demoScript(2),
    sensors: { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed) },
  });
}

const mean = (values: number[]) => values.reduce((a, b) => a + b, 0) / values.length;
const of = (stances: TruthStance[], side: string, key: keyof TruthStance) =>
  mean(stances.filter((s) => s.side === side && s.steady).map((s) => s[key] as number));

describe('a session of the synthetic athlete', () => {
  it('is the same for the same seed, byte for byte, and another for another seed', () => {
    const bytes = (seed: number) => {
      const { streams } = demo(seed);
      return Buffer.concat(
        [streams.pelvis, streams.sternum!].flatMap((s) => [Buffer.from(s.ax.buffer), Buffer.from(s.gz.buffer)]),
      );
    };
    const first = bytes(3);
    expect(bytes(3).equals(first)).toBe(true);
    expect(bytes(4).equals(first)).toBe(false);
  });

  it('has stances whose truth can be computed again from the true angles', () => {
    const { truth } = simulateSession({
      seed: 2,
      athlete: randomAthlete(2),
      script: [
        { kind: 'pause', seconds: 1 },
        { kind: 'walk', seconds: 15, cadencePerMin: 100 },
        { kind: 'run', seconds: 15, cadencePerMin: 170, speedMps: 3.5 },
      ],
      sensors: { pelvis: ideal('pelvis', { rateHz: 500, clock: { offsetS: 7, skewPpm: 30, phaseS: 0.001 } }) },
    });
    expect(truth.stances.length).toBeGreaterThan(40);
    const { t, pelvicObliquityDeg, trunkLateralTiltDeg } = truth.angles;
    for (const s of truth.stances) {
      const inside = [...t.keys()].filter((k) => t[k]! >= s.initialContact && t[k]! <= s.toeOff);
      const sign = s.side === 'left' ? 1 : -1;
      const swing = inside.map((k) => sign * pelvicObliquityDeg[k]!);
      const lean = inside.map((k) => sign * trunkLateralTiltDeg[k]!);
      expect(s.swingSideDropDeg).toBeCloseTo(-Math.min(...swing), 1);
      expect(s.swingSideLiftDeg).toBeCloseTo(Math.max(...swing), 1);
      expect(s.leanToStanceMeanDeg).toBeCloseTo(mean(lean), 1);
      expect(s.leanToStancePeakDeg).toBeCloseTo(Math.max(...lean), 1);
      const events = truth.contacts.filter((c) => c.side === s.side && (c.t === s.initialContact || c.t === s.toeOff));
      expect(events.map((c) => c.type)).toEqual(['initial_contact', 'toe_off']);
    }
  });

  it('shows the example athlete one-sided as told: drop 8 against 4 deg, lean 5 against 2 deg', () => {
    const { truth } = demo(3);
    const walk = truth.stances.filter((s) => s.task === 'walk');
    expect(of(walk, 'left', 'swingSideDropDeg')).toBeCloseTo(8, 0);
    expect(of(walk, 'right', 'swingSideDropDeg')).toBeCloseTo(4, 0);
    expect(of(walk, 'left', 'leanToStancePeakDeg')).toBeCloseTo(5, 0);
    expect(of(walk, 'right', 'leanToStancePeakDeg')).toBeGreaterThan(1.5);
    expect(of(walk, 'right', 'leanToStancePeakDeg')).toBeLessThan(3);
  });

  it('keeps the pelvis level against the wall and leans only in the free stand', () => {
    const { truth, marks } = demo(3);
    const over = (kind: string, angle: Float64Array) => {
      const mark = marks.find((m) => m.kind === kind)!;
      return mean(
        [...angle].filter((_, k) => truth.angles.t[k]! > mark.startS + 0.5 && truth.angles.t[k]! < mark.endS - 0.5),
      );
    };
    expect(Math.abs(over('reference_stand', truth.angles.pelvicObliquityDeg))).toBeLessThan(0.2);
    expect(over('stand', truth.angles.pelvicObliquityDeg)).toBeCloseTo(truth.restingLean.pelvicObliquityDeg, 0);
    expect(over('stand', truth.angles.trunkLateralTiltDeg)).toBeCloseTo(truth.restingLean.trunkLateralTiltDeg, 0);
  });

  it('bows forward about an axis that is off by a few degrees', () => {
    const { truth, marks } = demo(3);
    const bow = marks.find((m) => m.kind === 'forward_bow')!;
    const inside = [...truth.angles.t.keys()].filter(
      (k) => truth.angles.t[k]! > bow.startS && truth.angles.t[k]! < bow.endS,
    );
    const tilts = inside.map((k) => truth.angles.trunkForwardTiltDeg[k]!);
    expect(Math.max(...tilts)).toBeGreaterThan(30);
    expect(Math.min(...tilts)).toBeGreaterThan(-5);
    expect(Math.max(...inside.map((k) => Math.abs(truth.angles.trunkLateralTiltDeg[k]!)))).toBeGreaterThan(0.3);
  });

  it.each([
    [{ kind: 'walk', seconds: 20, cadencePerMin: 118 }, 118, [0.5, 0.75]],
    [{ kind: 'walk', seconds: 30, cadencePerMin: 60 }, 60, [1.1, 1.5]],
    [{ kind: 'run', seconds: 20, cadencePerMin: 165, speedMps: 3 }, 165, [0.2, 0.35]],
    [{ kind: 'run', seconds: 20, cadencePerMin: 200, speedMps: 5.5 }, 200, [0.14, 0.25]],
  ] as [ScriptStep, number, [number, number]][])(
    'keeps the cadence of %o, feet alternating',
    (step, cadence, contactS) => {
      const { truth } = simulateSession({
        seed: 9,
        athlete: randomAthlete(9),
        script: [step],
        sensors: { pelvis: ideal('pelvis', { rateHz: 100 }) },
      });
      const steady = truth.stances.filter((s) => s.steady);
      expect(60 / mean(steady.map((s) => s.stepTimeS))).toBeGreaterThan(0.97 * cadence);
      expect(60 / mean(steady.map((s) => s.stepTimeS))).toBeLessThan(1.03 * cadence);
      for (const s of steady) {
        expect(s.contactTimeS).toBeGreaterThan(contactS[0]);
        expect(s.contactTimeS).toBeLessThan(contactS[1]);
        expect(s.flightTimeS < 0).toBe(step.kind === 'walk');
      }
      const landings = truth.contacts.filter((c) => c.type === 'initial_contact');
      for (let k = 1; k < landings.length; k++) expect(landings[k]!.side).not.toBe(landings[k - 1]!.side);
    },
  );

  it('takes off from the foot asked for and lands on the one asked for', () => {
    for (const takeOff of [
      { side: 'left', flightS: 0.45, landing: 'left' },
      { side: 'left', flightS: 0.55, landing: 'right' },
      { side: 'right', flightS: 0.6, landing: 'both' },
    ] as const) {
      const { truth } = simulateSession({
        seed: 4,
        athlete: randomAthlete(4),
        script: [{ kind: 'run-up', steps: 10, topSpeedMps: 6, takeOff }],
        sensors: { pelvis: ideal('pelvis') },
      });
      const leap = truth.takeOffs[0]!;
      expect(truth.contacts.find((c) => c.t === leap.t)).toMatchObject({ side: takeOff.side, type: 'toe_off' });
      const landed = truth.contacts.filter(
        (c) => c.type === 'initial_contact' && c.t > leap.t && c.t < leap.t + takeOff.flightS + 0.05,
      );
      expect(new Set(landed.map((c) => c.side))).toEqual(
        new Set(takeOff.landing === 'both' ? ['left', 'right'] : [takeOff.landing]),
      );
      expect(landed[0]!.t - leap.t).toBeCloseTo(takeOff.flightS, 6);
    }
  });

  it('limps with a shorter stance and step on the sore side', () => {
    const { truth } = simulateSession({
      seed: 6,
      athlete: symmetricAthlete(6),
      script: [
        { kind: 'walk', seconds: 30, cadencePerMin: 95, limp: { side: 'right', stepTimeShare: 0.85, extraLeanDeg: 5 } },
      ],
      sensors: { pelvis: ideal('pelvis') },
    });
    expect(of(truth.stances, 'right', 'stepTimeS') / of(truth.stances, 'left', 'stepTimeS')).toBeCloseTo(
      0.85 / 1.15,
      1,
    );
    expect(of(truth.stances, 'right', 'contactTimeS')).toBeLessThan(of(truth.stances, 'left', 'contactTimeS'));
    expect(of(truth.stances, 'right', 'leanToStancePeakDeg')).toBeGreaterThan(
      of(truth.stances, 'left', 'leanToStancePeakDeg') + 3,
    );
  });

  it('has no built-in side difference: symmetric athletes differ by less than half a degree over many steps', () => {
    const differences = [1, 2, 3, 4, 5, 6].map((seed) => {
      const { truth } = simulateSession({
        seed,
        athlete: symmetricAthlete(seed),
        script: [{ kind: 'run', seconds: 60, cadencePerMin: 170, speedMps: 3.5 }],
        sensors: { pelvis: ideal('pelvis', { rateHz: 100 }) },
      });
      return of(truth.stances, 'left', 'swingSideDropDeg') - of(truth.stances, 'right', 'swingSideDropDeg');
    });
    expect(Math.max(...differences.map(Math.abs))).toBeLessThan(0.5);
  });

  it('varies from step to step, and differently for athletes of different seeds', () => {
    const phases = Array.from({ length: 30 }, (_, seed) => randomAthlete(seed).run.dropPhase);
    expect(Math.min(...phases)).toBeLessThan(0.33);
    expect(Math.max(...phases)).toBeGreaterThan(0.47);
    const { truth } = demo(5);
    const drops = truth.stances.filter((s) => s.steady && s.side === 'left').map((s) => s.swingSideDropDeg);
    const spread = Math.sqrt(mean(drops.map((d) => (d - mean(drops)) ** 2)));
    expect(spread).toBeGreaterThan(0.3);
    expect(spread).toBeLessThan(1.5);
  });
});
