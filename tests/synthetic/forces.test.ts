import { describe, expect, it } from 'vitest';
import { BODY_DT_S } from '../../firmware-protocol/virtual-sensor/athlete/body.ts';
import { moveBody, type Motion } from '../../firmware-protocol/virtual-sensor/athlete/ground-force.ts';
import { GRAVITY_MPS2, type Bout } from '../../firmware-protocol/virtual-sensor/athlete/plan.ts';
import { randomAthlete, type AthleteProfile } from '../../firmware-protocol/virtual-sensor/athlete/profile.ts';
import type { ScriptStep } from '../../firmware-protocol/virtual-sensor/athlete/script.ts';
import { layOut } from '../../firmware-protocol/virtual-sensor/athlete/timeline.ts';

const WALK: ScriptStep = { kind: 'walk', seconds: 15, cadencePerMin: 105 };
const SLOW: ScriptStep = { kind: 'walk', seconds: 12, cadencePerMin: 60 };
const LIMP: ScriptStep = {
  kind: 'walk',
  seconds: 12,
  cadencePerMin: 95,
  limp: { side: 'left', stepTimeShare: 0.85, extraLeanDeg: 4 },
};
const RUN: ScriptStep = { kind: 'run', seconds: 12, cadencePerMin: 168, speedMps: 3.6 };
const CURVE: ScriptStep = { ...RUN, curve: { direction: 'left', radiusM: 15, afterS: 4, seconds: 5 } };
const RUN_UP: ScriptStep = {
  kind: 'run-up',
  steps: 13,
  topSpeedMps: 6.5,
  takeOff: { side: 'left', flightS: 0.5, landing: 'both' },
};

function move(profile: AthleteProfile, script: ScriptStep[], seed: number): { motion: Motion; bouts: Bout[] } {
  const pause: ScriptStep = { kind: 'pause', seconds: 1 };
  const timeline = layOut([pause, ...script.flatMap((step) => [step, pause])], profile, seed);
  const count = Math.ceil(timeline.endS / BODY_DT_S) + 1;
  return { motion: moveBody(timeline.bouts, profile, BODY_DT_S, count), bouts: timeline.bouts };
}

/** An athlete whose steps are all alike and whose running force is a bare half-sine. */
function evenAthlete(massKg: number): AthleteProfile {
  const athlete = randomAthlete(1);
  athlete.massKg = massKg;
  for (const gait of [athlete.walk, athlete.run]) {
    gait.stepTimeCv = gait.contactTimeCv = gait.heightSdM = gait.extensionShare = 0;
    gait.contactTimeRatio = gait.stepTimeRatio = { left: 1, right: 1 };
    gait.heelImpact = { left: 0, right: 0 };
  }
  return athlete;
}

/** Trapezoid over [fromS, toS], with the ends cut at their exact times. */
function integrate(values: Float64Array, fromS: number, toS: number): number {
  const at = (t: number) => {
    const k = Math.floor(t / BODY_DT_S);
    const u = t / BODY_DT_S - k;
    return (1 - u) * values[k]! + u * values[k + 1]!;
  };
  let sum = 0;
  const n = 4 * Math.round((toS - fromS) / BODY_DT_S);
  for (let i = 0; i <= n; i++) sum += (i === 0 || i === n ? 0.5 : 1) * at(fromS + ((toS - fromS) * i) / n);
  return (sum * (toS - fromS)) / n;
}

const ALL = [WALK, SLOW, LIMP, RUN, CURVE, RUN_UP];

describe('forces of the synthetic athlete obey Newton', () => {
  it.each([WALK, RUN])('vertical force over a stride of even $kind equals body weight times stride time', (step) => {
    const { motion, bouts } = move(evenAthlete(70), [step], 3);
    const steady = bouts[0]!.contacts.filter((c) => c.steady);
    const stride = [steady[4]!, steady[6]!] as const;
    expect(stride[0].side).toBe(stride[1].side);
    const impulse = integrate(motion.forceY, stride[0].icS, stride[1].icS);
    const weight = GRAVITY_MPS2 * (stride[1].icS - stride[0].icS);
    expect(Math.abs(impulse / weight - 1)).toBeLessThan(1e-3);
  });

  it('vertical force over any bout, from still to still, equals body weight times its duration', () => {
    const { motion, bouts } = move(randomAthlete(5), ALL, 5);
    for (const bout of bouts) {
      const impulse = integrate(motion.forceY, bout.startS - 0.2, bout.endS + 0.2);
      expect(impulse / (GRAVITY_MPS2 * (bout.endS - bout.startS + 0.4))).toBeCloseTo(1, 5);
    }
  });

  it('the vertical velocity at toe-off and at the next contact fits the flight between them', () => {
    const { motion, bouts } = move(randomAthlete(6), [RUN, RUN_UP], 6);
    let flights = 0;
    for (const { contacts } of bouts) {
      contacts.forEach((contact, k) => {
        const next = contacts[k + 1];
        if (next === undefined || next.icS - contact.toS < 0.03) return;
        flights++;
        const off = Math.ceil(contact.toS / BODY_DT_S) + 1;
        const on = Math.floor(next.icS / BODY_DT_S) - 1;
        const lost = motion.velocityY[off]! - motion.velocityY[on]!;
        expect(lost).toBeCloseTo(GRAVITY_MPS2 * (on - off) * BODY_DT_S, 9);
        expect(motion.velocityY[off]!).toBeGreaterThan(0);
        expect(motion.velocityY[on]!).toBeLessThan(0);
      });
    }
    expect(flights).toBeGreaterThan(30);
  });

  it('in flight there is no force, and the ground never pulls', () => {
    for (const seed of [1, 2, 3, 4, 5, 6]) {
      const { motion, bouts } = move(randomAthlete(seed), ALL, seed);
      expect(Math.min(...motion.forceY)).toBeGreaterThan(-1e-6);
      const takeOff = bouts.at(-1)!.takeOff!;
      const middle = Math.round((takeOff.tS + takeOff.flightS / 2) / BODY_DT_S);
      expect([motion.forceX[middle], motion.forceY[middle], motion.forceZ[middle]]).toEqual([0, 0, 0]);
    }
  });

  it('the athlete starts and ends still, and travels as fast as the script says in between', () => {
    const { motion, bouts } = move(randomAthlete(7), [RUN], 7);
    const end = motion.count - 1;
    for (const v of [motion.velocityX, motion.velocityY, motion.velocityZ])
      expect(Math.abs(v[end]!)).toBeLessThan(1e-6);
    expect(Math.abs(motion.y[end]!)).toBeLessThan(1e-5);
    const steady = bouts[0]!.contacts.filter((c) => c.steady);
    const [from, to] = [steady[0]!.icS, steady.at(-1)!.icS];
    const travelled = motion.x[Math.round(to / BODY_DT_S)]! - motion.x[Math.round(from / BODY_DT_S)]!;
    expect(travelled / (to - from) / 3.6).toBeGreaterThan(0.96);
    expect(travelled / (to - from) / 3.6).toBeLessThan(1.04);
  });

  it('each foot pushes the body towards the midline', () => {
    for (const step of [WALK, RUN]) {
      const { motion, bouts } = move(randomAthlete(8), [step], 8);
      const contacts = bouts[0]!.contacts;
      contacts.forEach((contact, k) => {
        if (!contact.steady) return;
        // Alone on the ground: between the other foot's toe-off before and its contact after.
        const from = Math.max(contact.icS, contacts[k - 1]!.toS);
        const to = Math.min(contact.toS, contacts[k + 1]!.icS);
        const sideways = integrate(motion.forceZ, from, to);
        expect(Math.sign(sideways)).toBe(contact.side === 'right' ? -1 : 1);
      });
    }
  });

  it('braking comes before propelling, and their sum is zero in steady running', () => {
    const { motion, bouts } = move(evenAthlete(70), [{ ...RUN, seconds: 20 }], 2);
    const steady = bouts[0]!.contacts.filter((c) => c.steady);
    let net = 0;
    for (const { icS, toS } of steady) {
      const middle = (icS + toS) / 2;
      expect(integrate(motion.forceX, icS, middle)).toBeLessThan(0);
      expect(integrate(motion.forceX, middle, toS)).toBeGreaterThan(0);
      net += integrate(motion.forceX, icS, toS);
    }
    // The wandering of the speed (a percent or two) is all that is left.
    expect(Math.abs(net)).toBeLessThan(0.05 * 3.6);
  });

  it('a left curve needs a force to the left of speed squared over radius, on average', () => {
    const { motion, bouts } = move(evenAthlete(70), [{ ...CURVE, seconds: 20 } as ScriptStep], 4);
    const { contacts, nodes } = bouts[0]!;
    const inCurve = contacts
      .map((_, k) => k)
      .filter((k) => nodes[k]!.tS > bouts[0]!.startS + 4.5 && nodes[k + 1]!.tS < bouts[0]!.startS + 8.5);
    const [first, last] = [nodes[inCurve[0]!]!, nodes[inCurve.at(-1)! + 1]!];
    let sum = 0;
    let count = 0;
    for (let g = Math.round(first.tS / BODY_DT_S); g < Math.round(last.tS / BODY_DT_S); g++) {
      const heading = Math.atan2(-motion.velocityZ[g]!, motion.velocityX[g]!);
      sum += -motion.forceX[g]! * Math.sin(heading) - motion.forceZ[g]! * Math.cos(heading);
      count++;
    }
    expect(sum / count / (3.6 ** 2 / 15)).toBeGreaterThan(0.9);
    expect(sum / count / (3.6 ** 2 / 15)).toBeLessThan(1.1);
  });

  it('with a bare half-sine it reproduces the sine-wave method of Morin et al. 2005 (J Appl Biomech 21:167-180)', () => {
    // Formulas recalled from memory and confirmed by numerical integration; worked figures computed from them, g = 9.81.
    const cases = [
      { m: 70, tc: 0.25, tf: 0.1, forceN: 1510.13, dropM: 0.059974 },
      { m: 70, tc: 0.22, tf: 0.14, forceN: 1765.09, dropM: 0.064305 },
      { m: 75, tc: 0.24, tf: 0.12, forceN: 1733.57, dropM: 0.064265 },
    ];
    for (const { m, tc, tf, forceN, dropM } of cases) {
      const run: ScriptStep = {
        kind: 'run',
        seconds: 12,
        cadencePerMin: 60 / (tc + tf),
        speedMps: 3.33,
        contactTimeS: tc,
      };
      const { motion, bouts } = move(evenAthlete(m), [run], 1);
      const steady = bouts[0]!.contacts.filter((c) => c.steady);
      const contact = steady[Math.floor(steady.length / 2)]!;
      expect(contact.toS - contact.icS).toBeCloseTo(tc, 6);
      const from = Math.round(contact.icS / BODY_DT_S);
      const to = Math.round(contact.toS / BODY_DT_S);
      const force = Math.max(...motion.forceY.subarray(from, to + 1)) * m;
      const lowest = Math.min(...motion.y.subarray(from, to + 1));
      expect(Math.abs(force / forceN - 1)).toBeLessThan(1e-3);
      expect(Math.abs((motion.y[from]! - lowest) / dropM - 1)).toBeLessThan(0.01);
      const highest = Math.max(...motion.y.subarray(to, to + Math.round(tf / BODY_DT_S)));
      expect(highest - lowest).toBeCloseTo(dropM + (GRAVITY_MPS2 * tf ** 2) / 8, 3);
    }
  });

  it('walking has two humps of vertical force with a dip below body weight in mid-stance', () => {
    const { motion, bouts } = move(evenAthlete(70), [{ kind: 'walk', seconds: 15, cadencePerMin: 115 }], 1);
    const contacts = bouts[0]!.contacts;
    for (let k = 6; k < 12; k++) {
      const alone = [contacts[k - 1]!.toS, contacts[k + 1]!.icS] as const;
      const middle = motion.forceY[Math.round((alone[0] + alone[1]) / 2 / BODY_DT_S)]!;
      const early = Math.max(
        ...motion.forceY.subarray(Math.round(contacts[k]!.icS / BODY_DT_S), Math.round(alone[0] / BODY_DT_S)),
      );
      expect(middle).toBeLessThan(0.95 * GRAVITY_MPS2);
      expect(early).toBeGreaterThan(1.05 * GRAVITY_MPS2);
    }
  });
});
