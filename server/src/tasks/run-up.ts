/** A run-up: the take-off is the stance before the longest flight; then the landing. */
import type { Contact, RunUp, Stance } from '@ambipede/shared';
import type { StanceFrames } from '../stance/stance-frames.ts';
import { flightsIn, lengthOf, longestOf } from './flights.ts';
import { FEET_REMARK, measureLanding, nearest, touchAfter } from './landing.ts';
import { windowOf, type Span } from './window.ts';

export const RUN_UP = {
  /** Stances before the take-off stance that are named with it. */
  lastStances: 6,
  /** A take-off's flight is longer than a usual one of its run-up by this factor (common practice, no source). */
  longerThanUsual: 1.3,
  flightSMin: 0.15,
} as const;

export function runUp(
  frames: StanceFrames,
  span: Span,
  stances: readonly Stance[],
  contacts: readonly Contact[],
  remarks: string[],
): RunUp {
  const flights = flightsIn(frames, windowOf(frames, span));
  const flight = longestOf(flights);
  const usualS = medianOf(flights.filter((f) => f !== flight).map(lengthOf));
  const isLeap =
    flight !== null && lengthOf(flight) >= Math.max(RUN_UP.flightSMin, RUN_UP.longerThanUsual * (usualS ?? 0));
  const own = stances.filter((s) => s.initialContact >= span.startS && s.initialContact <= span.endS);
  if (!isLeap) {
    remarks.push('No flight was longer than those of the running steps: the take-off cannot be told.');
    return { ...span, lastStances: idsBefore(own, Infinity), takeOff: null, landing: null };
  }
  const toeOff = nearest(flight.startS, contacts, 'toe_off');
  const stance = toeOff && own.find((s) => Math.abs(s.toeOff - toeOff.t) < SAME_EVENT_S);
  if (!stance) remarks.push('The stance of the take-off was not kept: its foot is not known for sure.');
  const leftS = stance?.toeOff ?? toeOff?.t ?? flight.startS;
  const touchS = touchAfter(flight, contacts);
  remarks.push(FEET_REMARK);
  return {
    ...span,
    lastStances: idsBefore(own, stance?.initialContact ?? leftS),
    takeOff: {
      stanceId: stance?.id ?? null,
      side: stance?.side ?? 'unknown',
      sidePosterior: stance?.sidePosterior ?? null,
      t: leftS,
      contactTimeS: stance?.contactTimeS ?? null,
      flightTimeS: touchS - leftS,
    },
    landing: measureLanding(frames, { t: touchS, feet: null }, span.endS),
  };
}

/** Contacts of a result are rounded. */
const SAME_EVENT_S = 1e-4;

function idsBefore(stances: readonly Stance[], beforeS: number): number[] {
  return stances
    .filter((s) => s.initialContact < beforeS)
    .slice(-RUN_UP.lastStances)
    .map((s) => s.id);
}

function medianOf(values: readonly number[]): number | null {
  return [...values].sort((a, b) => a - b)[values.length >> 1] ?? null;
}
