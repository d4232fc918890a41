/** The last seconds of the signals that the detectors look back into, by running sample number. */

export interface History {
  /** Number of samples since the start of this unbroken run of samples; the newest is `count - 1`. */
  count: number;
  newestS: number;
  /** Vertical and forward acceleration as they came, free fall as the floor of the vertical. */
  up: Float64Array;
  forward: Float64Array;
  /** Forward tilt in rad, NaN when not known. */
  tilt: Float64Array;
  /** Vertical acceleration, lightly smoothed; valid up to `count - 1 - fine half width`. */
  fineUp: Float64Array;
  /** The walking step signal; valid up to `count - 1 - coarse half width`. */
  step: Float64Array;
}

export function startHistory(length: number): History {
  return {
    count: 0,
    newestS: NaN,
    up: new Float64Array(length),
    forward: new Float64Array(length),
    tilt: new Float64Array(length),
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
