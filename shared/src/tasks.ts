/**
 * What the tasks say that are not judged by their stances alone (BIOMECHANICS 3). A value that could not be measured is
 * null, never 0. Tilts: degrees, + right side up; side-relative ones say so. Times: seconds of the pelvis clock.
 */
import type { Side, SideOrUnknown } from './body.ts';

/** How much a segment's tilt wanders about its mean: from angles, so in degrees and not in centimetres. */
export interface TiltSway {
  /** Root mean square about the mean, deg. */
  lateralRmsDeg: number;
  forwardRmsDeg: number;
  /** Length of the path of both tilts together, per second, deg/s. */
  pathDegPerS: number;
}

export interface QuietStand {
  startS: number;
  endS: number;
  /** Mean tilt from the reference stand, + right side up; the trunk then leans to the left. */
  restingLeanDeg: { pelvis: number | null; trunk: number | null };
  /** One standard deviation of the resting lean: how the sensors sit, and the sway. */
  restingLeanUncertaintyDeg: { pelvis: number | null; trunk: number | null };
  sway: { pelvis: TiltSway | null; trunk: TiltSway | null };
  /** Chest against pelvis about the vertical since the reference stand, + right side ahead; with its standard uncertainty. */
  chestLeadDeg: number | null;
  chestLeadUncertaintyDeg: number | null;
  /** Null when not known, or not more than its uncertainty. */
  chestLeads: Side | null;
}

export interface SingleLegStand {
  startS: number;
  endS: number;
  /** The standing foot, as the coach marked it. */
  side: Side | null;
  /** The longest time without a step or a hop within the span. What follows is over that time. */
  heldS: number;
  /** + lift, - drop, mean. */
  swingSideHeightDeg: number | null;
  leanToStanceDeg: number | null;
  /** + opens hip and shoulder of the free side, - closes them. */
  sideBendDeg: number | null;
  sway: { pelvis: TiltSway | null; trunk: TiltSway | null };
  /** Bursts of lateral tilt towards each side of the athlete; of the trunk, or of the pelvis without a sternum sensor. */
  corrections: { left: number; right: number } | null;
}

export interface Landing {
  /** First touch after the flight. */
  t: number;
  feet: Side | 'both' | null;
  peakVerticalAccelerationG: { pelvis: number | null; sternum: number | null };
  /** Largest angular velocity about the vertical: a proxy for the twist that a knee takes, no joint load. */
  kneeTwistProxyDegPerS: { pelvis: number | null; trunk: number | null };
  /** Largest tilt from level in the same time, with its sign: + right side up. */
  peakTiltDeg: { pelvis: number | null; trunk: number | null };
  /** From the touch until the body stays quiet; null when it does not within the span. */
  settleS: number | null;
}

export interface RunUp {
  startS: number;
  endS: number;
  /** Ids of the last stances before the take-off stance, in order of time. */
  lastStances: number[];
  takeOff: {
    /** Of the stance before the longest flight; null when that stance is not among the kept ones. */
    stanceId: number | null;
    side: SideOrUnknown;
    sidePosterior: number | null;
    /** Foot off the ground. */
    t: number;
    contactTimeS: number | null;
    flightTimeS: number;
  } | null;
  landing: Landing | null;
}

export interface HalfTurn {
  startS: number;
  endS: number;
  direction: Side;
  durationS: number;
  /** Net turn of the pelvis, always positive. */
  turnDeg: number;
  peakRateDegPerS: { pelvis: number; trunk: number | null };
  /**
   * From the still moment just before, in the direction of the turn. Out: the largest separation while turning, + chest ahead of
   * the pelvis, - pelvis ahead. Back: how far it then goes past the pelvis to the other side.
   */
  separationOutDeg: number | null;
  separationBackDeg: number | null;
  /** + leans into the turn; the mean, and the furthest from upright to either side. */
  leanIntoTurnMeanDeg: number | null;
  leanIntoTurnPeakDeg: number | null;
  settleS: number | null;
}

/** One entry per span that the coach marked; half-turns: one per turn found. */
export interface TaskSummary {
  stand: QuietStand[];
  singleLegStand: SingleLegStand[];
  runUp: RunUp[];
  landing: Landing[];
  halfTurn: HalfTurn[];
  /** Plain sentences: what could not be measured, and why. */
  remarks: string[];
}
