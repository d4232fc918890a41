import { describe, expect, test } from 'vitest';
import { EVIDENCE_MAX, posteriorOfRight } from '../../server/src/stance/sides/decode.ts';
import { landingsOf, linksOf, LINKS, type Link } from '../../server/src/stance/sides/links.ts';
import { normals, finalOf, runStages, sineRunning } from './contacts-signals.ts';

/** Posterior by adding up the probability of every possible sequence of sides: the definition, with no recursion. */
function byEnumeration(evidence: readonly number[], repeats: readonly number[], priorRight: number): number[] {
  const n = evidence.length;
  const right = new Array<number>(n).fill(0);
  let total = 0;
  for (let word = 0; word < 2 ** n; word += 1) {
    const isRight = (i: number): boolean => ((word >> i) & 1) === 1;
    let p = isRight(0) ? priorRight : 1 - priorRight;
    for (let i = 0; i < n; i += 1) {
      if (isRight(i)) p *= Math.exp(evidence[i]!);
      if (i === 0) continue;
      p *= isRight(i) === isRight(i - 1) ? repeats[i]! : 1 - repeats[i]!;
    }
    total += p;
    for (let i = 0; i < n; i += 1) if (isRight(i)) right[i]! += p;
  }
  return right.map((p) => p / total);
}

describe('the sequence of sides', () => {
  test('forward-backward gives the posterior of the definition (Rabiner 1989)', () => {
    const normal = normals(11);
    for (let round = 0; round < 50; round += 1) {
      const n = 1 + (round % 9);
      // The decoder cuts larger values off.
      const limit = EVIDENCE_MAX;
      const evidence = Array.from({ length: n }, () => Math.min(limit, Math.max(-limit, 3 * normal())));
      const repeats = Array.from({ length: n }, () => Math.min(1, Math.abs(normal()) / 3));
      const prior = round % 2 === 0 ? 0.5 : 0.9;
      const expected = byEnumeration(evidence, repeats, prior);
      posteriorOfRight(evidence, repeats, prior).right.forEach((p, i) => expect(p).toBeCloseTo(expected[i]!, 10));
    }
  });

  test('a long sequence cut in two, the first half handed on as a prior, ends the same', () => {
    const normal = normals(12);
    const evidence = Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? 1 : -1) + normal());
    const { repeatProbability } = LINKS;
    const repeats = evidence.map((_, i) => (i === 25 ? 0.5 : repeatProbability));
    const whole = posteriorOfRight(evidence, repeats, 0.5);
    const last = whole.forward[19]!;
    const prior = repeatProbability * last + (1 - repeatProbability) * (1 - last);
    const rest = posteriorOfRight(evidence.slice(20), repeats.slice(20), prior);
    rest.right.forEach((p, i) => expect(p).toBeCloseTo(whole.right[20 + i]!, 10));
  });

  test('twice the step time is a break, as is half of it; a limp is none', () => {
    const continues = (timesS: number[]): boolean[] => linksAt(timesS).map((link) => link.continues);
    expect(continues([0, 0.5, 1, 1.5, 2, 3, 3.5])).toEqual([false, true, true, true, true, false, true]);
    expect(continues([0, 0.5, 1, 1.5, 2, 2.22, 2.72])).toEqual([false, true, true, true, true, false, true]);
    expect(continues([0, 0.45, 1.2, 1.65, 2.4, 2.85, 3.6])).toEqual([false, true, true, true, true, true, true]);
    // The second contact out of standing was missed: the steps after it tell.
    expect(continues([0, 1, 1.5, 2, 2.5])).toEqual([false, false, true, true, true]);
  });

  test('lost samples hide a step and do not end the alternation; many steps long they do', () => {
    const at = (missing: number): number[] => [0, 0.5, 1, 1.5, 2].map((tS, i) => (i < 3 ? tS : tS + 0.5 * missing));
    const repeatAfter = (missing: number): number => linksAt(at(missing), { gapBefore: 3 })[3]!.repeat;
    expect(repeatAfter(0)).toBeLessThan(0.01);
    expect(repeatAfter(1)).toBeGreaterThan(0.9);
    expect(repeatAfter(2)).toBeLessThan(0.1);
    expect(repeatAfter(5)).toBe(0.5);
    // The same time without a gap may have been a hop.
    expect(linksAt(at(1))[3]!.repeat).toBe(0.5);
  });

  test('turning on the spot and a landing after a jump leave what comes next open', () => {
    const timesS = [0, 0.5, 1, 1.5, 2];
    const repeat = (i: number, more: Parameters<typeof linksAt>[1]): number => linksAt(timesS, more)[i]!.repeat;
    expect(repeat(2, {})).toBe(LINKS.repeatProbability);
    expect(repeat(2, { turnAt: 2 })).toBe(LINKS.turning.repeat);
    expect(repeat(3, { landingAt: 2 })).toBeGreaterThan(0.2);
  });

  test('a flight far longer than the others is a jump, unless every step is one or the next follows at once', () => {
    const steps = (flightsS: readonly number[], contactS = 0.2): boolean[] =>
      landingsOf(flightsS.map((beforeS, i) => ({ beforeS, contactS, afterS: flightsS[i + 1] ?? NaN })));
    expect(steps([NaN, 0.1, 0.12, 0.5, 0.1])).toEqual([false, false, false, true, false]);
    expect(steps([NaN, 0.4, 0.42, 0.41, 0.4]).some(Boolean)).toBe(false);
    expect(steps([NaN, 0.1, 0.12, 0.11, 0.5, 0.4, 0.6])).toEqual([false, false, false, false, false, false, true]);
    // From standing, nothing to compare with.
    expect(steps([0.45])).toEqual([true]);
  });
});

/** Links of contacts at these times, with at most one odd thing among them. */
function linksAt(
  timesS: readonly number[],
  odd: { gapBefore?: number; turnAt?: number; landingAt?: number } = {},
): Link[] {
  return linksOf({
    timesS,
    afterGap: timesS.map((_, i) => i === odd.gapBefore),
    turnRates: timesS.map((_, i) => (i === odd.turnAt ? LINKS.turning.full : 0)),
    landings: timesS.map((_, i) => i === odd.landingAt),
  });
}

describe('sides of running', () => {
  const step = { contactS: 0.22, flightS: 0.1 };

  test('a hop, two contacts of one foot with a long flight between, is a break and not a swap of all that follow', () => {
    const steps = Array.from({ length: 24 }, () => ({ ...step }));
    steps[11]!.flightS = 0.4;
    const { frames, truth } = sineRunning(steps, 200, { noise: normals(6), noiseMps2: 0.3 });
    const hopS = truth[22]!.tS + 0.3;
    // From the hop on every contact is on the other foot than alternation would have it.
    for (const frame of frames) if (frame.tS > hopS) frame.right = -frame.right;
    for (const c of truth) if (c.tS > hopS) c.side = c.side === 'left' ? 'right' : 'left';
    const found = finalOf(runStages(frames, 200));
    for (const c of truth.slice(0, -1)) {
      const match = found.find((e) => e.type === c.type && Math.abs(e.tS - c.tS) < 0.06);
      expect(match?.side, `${c.type} at ${c.tS.toFixed(2)}`).toBe(c.side);
    }
    const bouts = new Set(found.map((e) => e.bout));
    expect(bouts.size).toBe(2);
  });

  test('samples lost over a contact hide it, and every side before and after stays right and sure', () => {
    for (const lostS of [0.07, 0.12, 0.3]) {
      const { frames, truth } = sineRunning(
        Array.from({ length: 24 }, () => step),
        200,
        { noise: normals(8), noiseMps2: 0.3 },
      );
      const fromS = truth[20]!.tS - 0.03;
      const kept = frames.filter((frame) => frame.tS < fromS || frame.tS > fromS + lostS);
      kept.find((frame) => frame.tS > fromS)!.fresh = true;
      const found = finalOf(runStages(kept, 200));
      expect(found.length).toBeGreaterThan(40);
      for (const event of found.filter((e) => e.sidePosterior > 0.9)) {
        const match = truth.find((c) => c.type === event.type && Math.abs(c.tS - event.tS) < 0.06);
        expect(event.side, `${event.type} at ${event.tS.toFixed(2)}, ${lostS} s lost`).toBe(match?.side);
      }
      const unsure = found.filter((e) => e.type === 'initial_contact' && e.sidePosterior <= 0.9);
      expect(unsure.length).toBeLessThanOrEqual(1);
    }
  });

  test('the landing after a jump may be on both feet: its side is never given as sure', () => {
    const steps = Array.from({ length: 20 }, () => ({ ...step }));
    steps[13]!.flightS = 0.5;
    const { frames, truth } = sineRunning(steps, 200, { noise: normals(9), noiseMps2: 0.3 });
    const found = finalOf(runStages(frames, 200)).filter((e) => e.type === 'initial_contact');
    const landing = found.find((e) => Math.abs(e.tS - truth[28]!.tS) < 0.06);
    expect(landing?.sidePosterior).toBeLessThan(0.9);
    const others = found.filter((e) => e !== landing && e.tS < truth[36]!.tS);
    expect(Math.min(...others.map((e) => e.sidePosterior))).toBeGreaterThan(0.9);
  });

  test('a tight turn to one side does not turn the sides round', () => {
    const { frames, truth } = sineRunning(
      Array.from({ length: 24 }, () => step),
      200,
      { noise: normals(7), noiseMps2: 0.3 },
    );
    // 4 m/s round 6 m: constant acceleration to the left and a constant rate.
    for (const frame of frames) {
      frame.right -= 4 ** 2 / 6;
      frame.yawRate = 4 / 6;
    }
    const found = finalOf(runStages(frames, 200));
    for (const c of truth.slice(0, -1)) {
      const match = found.find((e) => e.type === c.type && Math.abs(e.tS - c.tS) < 0.06);
      expect(match?.side).toBe(c.side);
    }
  });
});
