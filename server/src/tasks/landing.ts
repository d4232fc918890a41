/** A landing: how hard, how much turning, how far from level, and how soon quiet. */
import { STANDARD_GRAVITY_MPS2, type Contact, type Landing } from '@ambipede/shared';
import type { StanceFrames } from '../stance/stance-frames.ts';
import { finite, furthestIn, meanIn, settleTime, windowOf, type FrameWindow, type Span } from './window.ts';

export const LANDING = {
  /** Peaks are looked for in this time after the touch, s: a landing is absorbed in about that (common practice, no source). */
  peakS: 0.3,
  /** Tilts are averaged over this, one swing of the soft tissue under a sensor at 8 to 15 Hz (common practice, no source), s. */
  tiltBlockS: 0.08,
  /** The edge of the free fall and the contact event mark the same touch when they are this near, s. */
  contactWithinS: 0.1,
  /** Quiet may begin within the span and be seen only after it, s. */
  afterSpanS: 1.5,
} as const;

export interface LandingEvent {
  t: number;
  feet: Landing['feet'];
}

/** The contact event that belongs to the end of a flight, else that end itself. */
export function touchAfter(flight: Span, contacts: readonly Contact[]): number {
  return nearest(flight.endS, contacts, 'initial_contact')?.t ?? flight.endS;
}

export function nearest(tS: number, contacts: readonly Contact[], type: Contact['type']): Contact | null {
  let best: Contact | null = null;
  for (const contact of contacts) {
    const apartS = Math.abs(contact.t - tS);
    if (contact.type !== type || apartS > LANDING.contactWithinS) continue;
    if (best === null || apartS < Math.abs(best.t - tS)) best = contact;
  }
  return best;
}

export function measureLanding(frames: StanceFrames, { t, feet }: LandingEvent, spanEndS: number): Landing {
  const peaks = windowOf(frames, { startS: t, endS: t + LANDING.peakS });
  const largestUp = (column: readonly number[]): number => {
    let largest = NaN;
    for (let i = peaks.from; i < peaks.to; i += 1) {
      if (Number.isNaN(column[i])) return NaN;
      if (!(column[i]! <= largest)) largest = column[i]!;
    }
    return largest / STANDARD_GRAVITY_MPS2;
  };
  const rate = (column: readonly number[]): number | null => finite(Math.abs(furthestIn(column, peaks)));
  return {
    t,
    feet,
    peakVerticalAccelerationG: {
      pelvis: finite(largestUp(frames.pelvisUp)),
      sternum: finite(largestUp(frames.sternumUp)),
    },
    kneeTwistProxyDegPerS: { pelvis: rate(frames.yawRateDegPerS), trunk: rate(frames.trunkYawRateDegPerS) },
    peakTiltDeg: {
      pelvis: finite(furthestTilt(frames, frames.obliquityDeg, peaks)),
      trunk: finite(furthestTilt(frames, frames.trunkTiltDeg, peaks)),
    },
    settleS: settleTime(frames, t, spanEndS + LANDING.afterSpanS),
  };
}

/** Of means over blocks within the window. */
function furthestTilt(frames: StanceFrames, tiltDeg: readonly number[], { from, to }: FrameWindow): number {
  const means: number[] = [];
  for (let i = from; i < to; i += 1) {
    const block = windowOf(frames, { startS: frames.t[i]!, endS: frames.t[i]! + LANDING.tiltBlockS });
    if (block.to > to) break;
    means.push(meanIn(tiltDeg, block));
  }
  return furthestIn(means, { from: 0, to: means.length });
}

export const FEET_REMARK =
  'Landing on one or two feet cannot be told from the pelvis and chest alone: mark the span landing-left, landing-right or landing-both.';
