/**
 * Where the foot meets and leaves the ground, from the edges of the push in the vertical acceleration of the pelvis.
 * Levels are shares of the push above free fall, so that scale, speed and body do not matter; what the level leaves out
 * is a share of the contact time, as on a half-sine push (Morin et al. 2005 model). See docs/algorithms/contacts.md.
 */
import { at, oldest, type History } from './history.ts';

const FREE_FALL = -9.81;

/** Share of the push at which a contact is timed, and how long before that the foot met the ground in contact times. */
const CONTACT_LEVEL = 0.2;
const CONTACT_LEAD = 0.041;
/** Falling freely is below this share of the push; a dip after the impact is shorter than this share of a contact. */
const FALLING_SHARE = 0.07;
const IMPACT_SHARE = 0.2;
/**
 * A toe-off is timed from the area under the falling edge in two bands of the push, not from crossings, so that a
 * second, smaller push of the pelvis on the way down does not move it by steps.
 */
const UPPER_BAND = { from: 0.5, to: 0.7 };
const LOWER_BAND = { from: 0.1, to: 0.2 };
/**
 * From the upper edge to the toe-off, in units of the time from the contact to the upper edge. Where a step is long for
 * its contact, flights are long and the push falls freely: the toe-off comes soon after the lower edge. In slow running
 * the second push often hides it, and a share of the step time says more. In between, both count.
 */
const LONG_FLIGHT = { offset: 0.046, fall: 1.162 };
const SHORT_FLIGHT = { offset: 0.107, fall: 0.118, step: 0.1, fallMax: 0.45 };
/** Step times in the same units: from only the short rule to only the long one; without knowledge; and the limits. */
const STEP = { short: 1.8, long: 2.3, usual: 1.9, min: 1.2, max: 3.6 };
const FALL = { min: 0.05, max: 0.6 };
/** Time from the contact to the upper edge as a share of a usual contact. */
const UPPER_SHARE = 0.73;

/** Mean of the highest quarter of the samples: the plateau of the push without an impact's spike, m/s^2. */
export function pushBetween(history: History, from: number, to: number): number {
  const start = Math.max(oldest(history), from);
  if (to <= start) return FREE_FALL;
  const values = new Float64Array(to - start + 1);
  for (let i = start; i <= to; i += 1) values[i - start] = at(history.fineUp, i);
  values.sort();
  const count = Math.max(1, Math.floor(values.length / 4));
  let sum = 0;
  for (let i = values.length - count; i < values.length; i += 1) sum += values[i]!;
  return sum / count;
}

/**
 * Fractional sample number of the initial contact of a push that is under way at `inside`.
 * @param contactSamples usual length of a contact in samples.
 */
export function contactAfterFlight(
  history: History,
  inside: number,
  push: number,
  contactSamples: number,
): number | null {
  const level = FREE_FALL + CONTACT_LEVEL * (push - FREE_FALL);
  const first = Math.max(oldest(history), inside - Math.round(contactSamples));
  let i = inside;
  // A contact found before may lie just under the level now.
  while (i < inside + contactSamples / 4 && at(history.fineUp, i) < level) i += 1;
  i = goBackBelow(history, i, first, level);
  // The impact of the heel comes first, and rings: a short dip after it is not yet free fall.
  const falling = FREE_FALL + FALLING_SHARE * (push - FREE_FALL);
  const furthest = Math.max(first, i - Math.round(IMPACT_SHARE * contactSamples));
  for (let j = i; j > furthest && at(history.fineUp, j) > falling; j -= 1) {
    if (at(history.fineUp, j) >= level) i = j = goBackBelow(history, j, first, level);
  }
  if (at(history.fineUp, i) >= level) return null;
  return crossing(history, i, level) - CONTACT_LEAD * contactSamples;
}

function goBackBelow(history: History, from: number, first: number, level: number): number {
  let i = from;
  while (i > first && at(history.fineUp, i) >= level) i -= 1;
  return i;
}

/**
 * Fractional sample number of the toe-off that ends the push before `airFrom`.
 * @param now newest sample number that may be looked at
 * @param contact sample number of the initial contact, null when not known
 * @param usualSamples usual length of a contact in samples, for when it is not known
 * @param stepSamples from the initial contact before this one; NaN when not known
 */
export function toeOffBefore(
  history: History,
  airFrom: number,
  now: number,
  push: number,
  contact: number | null,
  usualSamples: number,
  stepSamples: number,
): number | null {
  const middle = Math.round((airFrom + (contact ?? airFrom - usualSamples)) / 2);
  if (middle < oldest(history) || middle >= airFrom) return null;
  const low = FREE_FALL + LOWER_BAND.from * (push - FREE_FALL);
  let upper = 0;
  let lower = 0;
  for (let i = middle; i <= now; i += 1) {
    const x = at(history.fineUp, i);
    if (i > airFrom && x < low) break;
    const share = (x - FREE_FALL) / (push - FREE_FALL);
    upper += inBand(share, UPPER_BAND);
    lower += inBand(share, LOWER_BAND);
  }
  const upperEdge = middle - 0.5 + upper;
  const length = contact === null ? usualSamples * UPPER_SHARE : upperEdge - contact;
  return upperEdge + length * toeOffShare((lower - upper) / length, stepSamples / length);
}

/** @param fall from the upper to the lower edge @param step step time, NaN when not known */
function toeOffShare(fall: number, step: number): number {
  const f = Math.min(FALL.max, Math.max(FALL.min, fall));
  const s = step >= STEP.min && step <= STEP.max ? step : STEP.usual;
  const long = Math.min(1, Math.max(0, (s - STEP.short) / (STEP.long - STEP.short)));
  const ifShort = SHORT_FLIGHT.offset + SHORT_FLIGHT.fall * Math.min(SHORT_FLIGHT.fallMax, f) + SHORT_FLIGHT.step * s;
  return long * (LONG_FLIGHT.offset + LONG_FLIGHT.fall * f) + (1 - long) * ifShort;
}

function inBand(share: number, band: { from: number; to: number }): number {
  return Math.min(1, Math.max(0, (share - band.from) / (band.to - band.from)));
}

/** Between samples i and i + 1, straight line. */
function crossing(history: History, i: number, level: number): number {
  const a = at(history.fineUp, i);
  const b = at(history.fineUp, i + 1);
  return a === b ? i : i + Math.min(1, Math.max(0, (level - a) / (b - a)));
}
