/** Times in the air, straight from the frames: in flight the pelvis falls freely. */
import type { StanceFrames } from '../stance/stance-frames.ts';
import type { FrameWindow, Span } from './window.ts';

export const FLIGHT = {
  /** About half of free fall, m/s^2: soft tissue under the sensor swings on for a while after take-off. */
  belowMps2: -5,
  /** Shorter is none, s. */
  sMin: 0.08,
  /** Swings back over the bound for no longer than this are bridged, s. */
  bridgeS: 0.03,
} as const;

/** In order of time. */
export function flightsIn(frames: StanceFrames, window: FrameWindow): Span[] {
  const flights: Span[] = [];
  let flight: Span | null = null;
  for (let i = window.from; i < window.to; i += 1) {
    const tS = frames.t[i]!;
    if (frames.pelvisUp[i]! < FLIGHT.belowMps2) {
      if (flight !== null && tS - flight.endS <= FLIGHT.bridgeS) flight.endS = tS;
      else flights.push((flight = { startS: tS, endS: tS }));
    }
  }
  return flights.filter((f) => f.endS - f.startS >= FLIGHT.sMin);
}

export function lengthOf(flight: Span): number {
  return flight.endS - flight.startS;
}

export function longestOf(flights: readonly Span[]): Span | null {
  return flights.reduce<Span | null>((best, f) => (best === null || lengthOf(f) > lengthOf(best) ? f : best), null);
}
