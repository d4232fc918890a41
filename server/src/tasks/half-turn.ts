/**
 * Half-turns of the pelvis between two moments of standing still. The turn begins and ends where its rate passes 5 deg/s
 * (as El-Gohary et al. 2014, Sensors 14:356-369, from memory). Separation is taken from the still moment just before,
 * while the two headings have had no time to drift apart.
 */
import type { HalfTurn, Side } from '@ambipede/shared';
import { hasBreak, type StanceFrames } from '../stance/stance-frames.ts';
import { finite, furthestIn, meanIn, settleTime, slopeAt, windowOf, type FrameWindow, type Span } from './window.ts';

export const HALF_TURN = {
  quietDegPerS: 5,
  /** The rate is taken over this to both sides, s. */
  halfS: 0.05,
  /** Still for this long before and after, s; the separation's zero is taken over the last of it (common practice, no source). */
  quietSMin: 0.3,
  zeroS: 0.5,
  /** The chest follows to its place for so long after the pelvis has stopped, s (common practice, no source). */
  followS: 0.5,
  /** Half a turn, give or take, deg. */
  turnDegMin: 120,
  turnDegMax: 240,
} as const;

/** Quiet may begin within the span and be seen only after it, s. */
const AFTER_SPAN_S = 1.5;

export function halfTurns(frames: StanceFrames, span: Span, remarks: string[]): HalfTurn[] {
  const still = stillRuns(frames, windowOf(frames, span));
  const turns: HalfTurn[] = [];
  for (let k = 1; k < still.length; k += 1) {
    const before = still[k - 1]!;
    const turn: FrameWindow = { from: before.to, to: still[k]!.from };
    if (hasBreak(frames.breaks, frames.t[before.to - 1]!, frames.t[turn.to]!)) continue;
    const netDeg = frames.headingDeg[turn.to]! - frames.headingDeg[turn.from - 1]!;
    if (Math.abs(netDeg) < HALF_TURN.turnDegMin || Math.abs(netDeg) > HALF_TURN.turnDegMax) continue;
    turns.push(measureTurn(frames, before, turn, netDeg, span.endS));
  }
  if (turns.length === 0)
    remarks.push('No half-turn between two still moments was found: stand still before and after each turn.');
  return turns;
}

/** Runs of frames in which the pelvis hardly turns, at least `quietSMin` long. */
export function stillRuns(frames: StanceFrames, window: FrameWindow): FrameWindow[] {
  const runs: FrameWindow[] = [];
  let from = window.from;
  const close = (to: number): void => {
    if (to > from && frames.t[to - 1]! - frames.t[from]! >= HALF_TURN.quietSMin) runs.push({ from, to });
  };
  for (let i = window.from; i < window.to; i += 1) {
    // At the very ends the rate is not known, which is no movement.
    const rate = slopeAt(frames, frames.headingDeg, i, HALF_TURN.halfS);
    if (!(Math.abs(rate) > HALF_TURN.quietDegPerS)) continue;
    close(i);
    from = i + 1;
  }
  close(window.to);
  return runs;
}

function measureTurn(
  frames: StanceFrames,
  before: FrameWindow,
  turn: FrameWindow,
  netDeg: number,
  spanEndS: number,
): HalfTurn {
  const startS = frames.t[turn.from]!;
  const endS = frames.t[turn.to]!;
  const towards = Math.sign(netDeg);
  const direction: Side = towards > 0 ? 'left' : 'right';
  const trunkRate = Math.abs(furthestIn(frames.trunkYawRateDegPerS, turn));
  // Right side up tips to the left.
  const lean = frames.trunkTiltDeg.slice(turn.from, turn.to).map((tilt) => towards * tilt);
  const whole = { from: 0, to: lean.length };
  return {
    startS,
    endS,
    direction,
    durationS: endS - startS,
    turnDeg: Math.abs(netDeg),
    peakRateDegPerS: { pelvis: Math.abs(furthestIn(frames.yawRateDegPerS, turn)), trunk: finite(trunkRate) },
    ...separation(frames, before, turn, towards),
    leanIntoTurnMeanDeg: finite(meanIn(lean, whole)),
    leanIntoTurnPeakDeg: finite(furthestIn(lean, whole)),
    settleS: settleTime(frames, endS, spanEndS + AFTER_SPAN_S),
  };
}

/**
 * Out: the furthest that the chest gets from the pelvis in the turn, + ahead and - behind (the pelvis leads). Back: how far it
 * then gets to the other side, until the chest is still too. Which segment leads is the athlete's way of turning.
 */
function separation(
  frames: StanceFrames,
  before: FrameWindow,
  turn: FrameWindow,
  towards: number,
): Pick<HalfTurn, 'separationOutDeg' | 'separationBackDeg'> {
  const unknown = { separationOutDeg: null, separationBackDeg: null };
  const stillEndS = frames.t[before.to - 1]!;
  const endS = frames.t[turn.to]!;
  if (hasBreak(frames.headingBreaks, stillEndS - HALF_TURN.zeroS, endS + HALF_TURN.followS)) return unknown;
  const still = windowOf(frames, {
    startS: Math.max(frames.t[before.from]!, stillEndS - HALF_TURN.zeroS),
    endS: stillEndS,
  });
  const zero = meanIn(frames.turnDeg, still);
  const ahead = (i: number): number => towards * (frames.turnDeg[i]! - zero);
  let outAt = turn.from;
  for (let i = turn.from; i <= turn.to; i += 1) {
    if (Number.isNaN(ahead(i))) return unknown;
    if (Math.abs(ahead(i)) > Math.abs(ahead(outAt))) outAt = i;
  }
  const out = ahead(outAt);
  let back = 0;
  const { to } = windowOf(frames, { startS: endS, endS: endS + HALF_TURN.followS });
  for (let i = outAt; i < to; i += 1) {
    if (Number.isNaN(ahead(i))) return unknown;
    back = Math.max(back, -Math.sign(out) * ahead(i));
  }
  return { separationOutDeg: out, separationBackDeg: back };
}
