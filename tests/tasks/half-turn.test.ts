/** Half-turns in movements that can be written down. */
import { describe, expect, it } from 'vitest';
import { HALF_TURN, halfTurns } from '../../server/src/tasks/half-turn.ts';
import type { StanceFrames } from '../../server/src/stance/stance-frames.ts';
import { ease, framesOf, RATE_HZ } from './frames.ts';

const TURN_DEG = 180;
const START_S = 3;
const LONG_S = 1;
/** Largest rate of half a cosine wave. */
const PEAK_DEG_PER_S = (TURN_DEG * Math.PI) / (2 * LONG_S);
/** Rates are taken over some frames to both sides, so an edge is known no better than that. */
const EDGE_S = HALF_TURN.halfS + 1 / RATE_HZ;

/** The chest goes 0.1 s ahead of the pelvis and comes to rest 0.1 s before it, having overshot by 6 deg. */
function turn(sign: number, changes: Partial<Record<'zero' | 'drift', number>> = {}): StanceFrames {
  const rate = (t: number, startS: number): number =>
    t > startS && t < startS + LONG_S ? sign * PEAK_DEG_PER_S * Math.sin((Math.PI * (t - startS)) / LONG_S) : 0;
  const pelvis = (t: number): number => 40 + sign * TURN_DEG * ease(t, START_S, START_S + LONG_S);
  const separation = (t: number): number => {
    const out = 25 * (ease(t, START_S, START_S + 0.4) - ease(t, START_S + 0.4, START_S + 0.7));
    const back = 6 * (ease(t, START_S + 0.7, START_S + 0.8) - ease(t, START_S + 0.8, START_S + 0.95));
    return sign * (out - back);
  };
  return framesOf(8, {
    headingDeg: pelvis,
    turnDeg: (t) => (changes.zero ?? 0) + (changes.drift ?? 0) * t + separation(t),
    yawRateDegPerS: (t) => rate(t, START_S),
    trunkYawRateDegPerS: (t) => 1.2 * rate(t, START_S - 0.05),
    trunkTiltDeg: (t) => sign * 9 * (ease(t, START_S, START_S + 0.5) - ease(t, START_S + 0.5, START_S + LONG_S)),
    pelvisForward: (t) => (t > START_S && t < 4.6 ? 2 : 0),
  });
}

const SPAN = { startS: 0.5, endS: 7.5 };

describe('a half-turn', () => {
  it.each([
    ['left', 1],
    ['right', -1],
  ] as const)('to the %s has its direction, size, duration and peak rates', (direction, sign) => {
    const [found, ...others] = halfTurns(turn(sign), SPAN, []);
    expect(others).toEqual([]);
    expect(found!.direction).toBe(direction);
    expect(Math.abs(found!.turnDeg - TURN_DEG)).toBeLessThan(1);
    expect(Math.abs(found!.startS - START_S)).toBeLessThan(EDGE_S);
    expect(Math.abs(found!.durationS - LONG_S)).toBeLessThan(2 * EDGE_S);
    expect(found!.peakRateDegPerS.pelvis).toBeCloseTo(PEAK_DEG_PER_S, 6);
    expect(found!.peakRateDegPerS.trunk).toBeCloseTo(1.2 * PEAK_DEG_PER_S, 6);
  });

  it('is the same to both sides for a body that does the same to both', () => {
    const strip = (sign: number) => ({ ...halfTurns(turn(sign), SPAN, [])[0]!, direction: null });
    expect(strip(-1)).toEqual(strip(1));
  });

  it('has the chest ahead and then behind, from the still moment before and not from the headings’ own zero', () => {
    const [found] = halfTurns(turn(1, { zero: 77 }), SPAN, []);
    expect(found!.separationOutDeg).toBeCloseTo(25, 6);
    expect(found!.separationBackDeg).toBeCloseTo(6, 6);
  });

  it('hardly sees a drift of the headings: only what it does since the still moment', () => {
    const [found] = halfTurns(turn(1, { drift: 0.1 }), SPAN, []);
    // 0.1 deg/s over at most a turn and the time that its zero is taken over.
    expect(Math.abs(found!.separationOutDeg! - 25)).toBeLessThan(0.1 * (LONG_S + HALF_TURN.zeroS));
  });

  it('leans into the turn with a plus, and settles when the body is quiet', () => {
    const [found] = halfTurns(turn(-1), SPAN, []);
    expect(found!.leanIntoTurnPeakDeg).toBeCloseTo(9, 3);
    expect(found!.leanIntoTurnMeanDeg).toBeGreaterThan(3);
    // Quiet from 4.6 s on; the turn ended at 4.
    expect(Math.abs(found!.settleS! - 0.6)).toBeLessThan(0.1 + EDGE_S);
  });

  it('there and back in one span is two turns', () => {
    const both = framesOf(12, { headingDeg: (t) => 180 * (ease(t, 3, 4) - ease(t, 7, 8.5)) });
    const found = halfTurns(both, { startS: 0, endS: 12 }, []);
    expect(found.map((t) => t.direction)).toEqual(['left', 'right']);
    expect(found[1]!.durationS).toBeGreaterThan(found[0]!.durationS);
  });

  it.each([
    ['a quarter turn', 90],
    ['a whole turn', 360],
    ['a glance', 20],
  ])('is not made of %s', (_, deg) => {
    const remarks: string[] = [];
    const frames = framesOf(8, { headingDeg: (t) => deg * ease(t, 3, 4) });
    expect(halfTurns(frames, SPAN, remarks)).toEqual([]);
    expect(remarks.join(' ')).toMatch(/No half-turn/);
  });

  it('is not seen when the span begins within it, or a gap lies in it', () => {
    expect(halfTurns(turn(1), { startS: START_S + 0.3, endS: 7.5 }, [])).toEqual([]);
    expect(halfTurns({ ...turn(1), breaks: [3.5] }, SPAN, [])).toEqual([]);
  });

  it('without a sternum sensor, or with its heading begun anew, has no separation', () => {
    const alone = { ...turn(1), turnDeg: turn(1).t.map(() => NaN), trunkTiltDeg: turn(1).t.map(() => NaN) };
    expect(halfTurns(alone, SPAN, [])[0]).toMatchObject({ separationOutDeg: null, leanIntoTurnMeanDeg: null });
    const anew = { ...turn(1), headingBreaks: [3.2] };
    expect(halfTurns(anew, SPAN, [])[0]).toMatchObject({ separationOutDeg: null, separationBackDeg: null });
  });
});
