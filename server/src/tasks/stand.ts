/**
 * Quiet stand: the resting lean against the outside zero of the reference stand (never against the athlete's own), sway,
 * and which side of the chest leads, as long as the headings of the two sensors can still be compared.
 */
import type { QuietStand, Side, TiltSway } from '@ambipede/shared';
import { hasBreak, type StanceFrames } from '../stance/stance-frames.ts';
import { finite, meanIn, tiltSway, windowOf, type Span } from './window.ts';

export const STAND = {
  /**
   * The two headings drift apart by about this, deg/s, one standard deviation: what the athlete turns while standing looks
   * like gyroscope bias. No source; the synthetic athlete shows 0.03 to 0.04.
   */
  headingDriftDegPerS: 0.05,
  /** A lead of the chest is named when it is more than this many standard uncertainties. */
  leadSigmas: 2,
} as const;

/** Standard uncertainty of the frontal zero, deg; null without a reference stand. */
export interface Zero {
  pelvis: number | null;
  trunk: number | null;
}

export function quietStand(
  frames: StanceFrames,
  span: Span,
  zero: Zero,
  reference: Span | null,
  remarks: string[],
): QuietStand {
  const window = windowOf(frames, span);
  const sway = {
    pelvis: tiltSway(frames, frames.obliquityDeg, frames.pelvicTiltDeg, window),
    trunk: tiltSway(frames, frames.trunkTiltDeg, frames.trunkForwardTiltDeg, window),
  };
  if (zero.pelvis === null)
    remarks.push('Without a reference stand there is no zero from outside: the resting lean is not measured.');
  const lean = (column: readonly number[], sigma: number | null): number | null =>
    sigma === null ? null : finite(meanIn(column, window));
  return {
    ...span,
    restingLeanDeg: {
      pelvis: lean(frames.obliquityDeg, zero.pelvis),
      trunk: lean(frames.trunkTiltDeg, zero.trunk),
    },
    restingLeanUncertaintyDeg: {
      pelvis: uncertainty(zero.pelvis, sway.pelvis, span),
      trunk: uncertainty(zero.trunk, sway.trunk, span),
    },
    sway,
    ...chestLead(frames, span, reference, remarks),
  };
}

/** The zero, and the mean of a sway of which a new value comes about every second (common practice, no source). */
function uncertainty(zeroDeg: number | null, sway: TiltSway | null, span: Span): number | null {
  if (zeroDeg === null || sway === null) return null;
  return Math.hypot(zeroDeg, sway.lateralRmsDeg / Math.sqrt(Math.max(1, span.endS - span.startS)));
}

type ChestLead = Pick<QuietStand, 'chestLeadDeg' | 'chestLeadUncertaintyDeg' | 'chestLeads'>;
const LEAD_UNKNOWN: ChestLead = { chestLeadDeg: null, chestLeadUncertaintyDeg: null, chestLeads: null };

function chestLead(frames: StanceFrames, span: Span, reference: Span | null, remarks: string[]): ChestLead {
  if (
    reference === null ||
    reference.startS > span.startS ||
    hasBreak(frames.headingBreaks, reference.startS, span.endS)
  ) {
    remarks.push(
      'Which side of the chest leads is known only when the reference stand comes before in the same unbroken recording.',
    );
    return LEAD_UNKNOWN;
  }
  const chestLeadDeg = finite(
    meanIn(frames.turnDeg, windowOf(frames, span)) - meanIn(frames.turnDeg, windowOf(frames, reference)),
  );
  if (chestLeadDeg === null) return LEAD_UNKNOWN;
  const apartS = (span.startS + span.endS - reference.startS - reference.endS) / 2;
  const chestLeadUncertaintyDeg = STAND.headingDriftDegPerS * apartS;
  const isTold = Math.abs(chestLeadDeg) > STAND.leadSigmas * chestLeadUncertaintyDeg;
  // The chest turned to the left (+) has its right side ahead.
  const ahead: Side = chestLeadDeg > 0 ? 'right' : 'left';
  return { chestLeadDeg, chestLeadUncertaintyDeg, chestLeads: isTold ? ahead : null };
}
