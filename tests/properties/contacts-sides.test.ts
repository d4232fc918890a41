import { describe, expect, test } from 'vitest';
import { continuity, posteriorOfRight, SEQUENCE } from '../../server/src/stance/sides/decode.ts';
import { normals, finalOf, runStages, sineRunning } from './contacts-signals.ts';

/** Posterior by adding up the probability of every possible sequence of sides: the definition, with no recursion. */
function byEnumeration(evidence: readonly number[], continues: readonly boolean[], priorRight: number): number[] {
  const n = evidence.length;
  const right = new Array<number>(n).fill(0);
  let total = 0;
  for (let word = 0; word < 2 ** n; word += 1) {
    const isRight = (i: number): boolean => ((word >> i) & 1) === 1;
    let p = isRight(0) ? priorRight : 1 - priorRight;
    for (let i = 0; i < n; i += 1) {
      if (isRight(i)) p *= Math.exp(evidence[i]!);
      if (i === 0) continue;
      const repeat = continues[i] ? SEQUENCE.repeatProbability : 0.5;
      p *= isRight(i) === isRight(i - 1) ? repeat : 1 - repeat;
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
      const limit = SEQUENCE.evidenceMax;
      const evidence = Array.from({ length: n }, () => Math.min(limit, Math.max(-limit, 3 * normal())));
      const continues = Array.from({ length: n }, (_, i) => i > 0 && normal() > -1);
      const prior = round % 2 === 0 ? 0.5 : 0.9;
      const expected = byEnumeration(evidence, continues, prior);
      posteriorOfRight(evidence, continues, prior).right.forEach((p, i) => expect(p).toBeCloseTo(expected[i]!, 10));
    }
  });

  test('a long sequence cut in two, the first half handed on as a prior, ends the same', () => {
    const normal = normals(12);
    const evidence = Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? 1 : -1) + normal());
    const continues = evidence.map((_, i) => i !== 0 && i !== 25);
    const whole = posteriorOfRight(evidence, continues, 0.5);
    const last = whole.forward[19]!;
    const prior = SEQUENCE.repeatProbability * last + (1 - SEQUENCE.repeatProbability) * (1 - last);
    const rest = posteriorOfRight(evidence.slice(20), [false, ...continues.slice(21)], prior);
    rest.right.forEach((p, i) => expect(p).toBeCloseTo(whole.right[20 + i]!, 10));
  });

  test('twice the step time is a break, as is half of it; a limp is none', () => {
    expect(continuity([0, 0.5, 1, 1.5, 2, 3, 3.5])).toEqual([false, true, true, true, true, false, true]);
    expect(continuity([0, 0.5, 1, 1.5, 2, 2.22, 2.72])).toEqual([false, true, true, true, true, false, true]);
    expect(continuity([0, 0.45, 1.2, 1.65, 2.4, 2.85, 3.6])).toEqual([false, true, true, true, true, true, true]);
  });
});

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
