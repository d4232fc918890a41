/** The last seconds of the signals that the detectors look back into, by running sample number. */

export interface History {
  /** Number of samples since the start of this unbroken run of samples; the newest is `count - 1`. */
  count: number;
  /** Time of the first and of the newest sample. */
  startS: number;
  newestS: number;
  /** Vertical and forward acceleration as they came, free fall as the floor of the vertical. */
  up: Float64Array;
  forward: Float64Array;
  /** Forward tilt in rad, NaN when not known. */
  tilt: Float64Array;
  /** 1 where the sample was interpolated, else 0. */
  filled: Float64Array;
  /** Vertical acceleration, lightly smoothed; valid up to `count - 1 - fine half width`. */
  fineUp: Float64Array;
  /** The walking step signal; valid up to `count - 1 - coarse half width`. */
  step: Float64Array;
}

export function startHistory(length: number): History {
  return {
    count: 0,
    startS: NaN,
    newestS: NaN,
    up: new Float64Array(length),
    forward: new Float64Array(length),
    tilt: new Float64Array(length),
    filled: new Float64Array(length),
    fineUp: new Float64Array(length),
    step: new Float64Array(length),
  };
}

export function at(ring: Float64Array, index: number): number {
  return ring[index % ring.length]!;
}

/** Time of a sample number, which may be fractional. */
export function timeOf(history: History, index: number, rateHz: number): number {
  return history.newestS - (history.count - 1 - index) / rateHz;
}

/** The oldest sample number that the ring still holds. */
export function oldest(history: History): number {
  return Math.max(0, history.count - history.up.length);
}

/** Whether a sample within `withinS` of the time was interpolated. */
export function isFilledNear(history: History, tS: number, withinS: number, rateHz: number): boolean {
  const centre = history.count - 1 - (history.newestS - tS) * rateHz;
  const from = Math.max(oldest(history), Math.floor(centre - withinS * rateHz));
  const to = Math.min(history.count - 1, Math.ceil(centre + withinS * rateHz));
  for (let i = from; i <= to; i += 1) if (at(history.filled, i) === 1) return true;
  return false;
}
