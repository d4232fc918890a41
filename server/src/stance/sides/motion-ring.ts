/** The last seconds of what tells the side, by running sample number. */

export interface MotionRing {
  count: number;
  newestS: number;
  /** Acceleration to the right, m/s^2; angular velocity about the segment's up and forward axes, rad/s. */
  right: Float64Array;
  yaw: Float64Array;
  roll: Float64Array;
}

export function startRing(length: number): MotionRing {
  return {
    count: 0,
    newestS: NaN,
    right: new Float64Array(length),
    yaw: new Float64Array(length),
    roll: new Float64Array(length),
  };
}

export function pushMotion(ring: MotionRing, tS: number, right: number, yaw: number, roll: number): void {
  const i = ring.count % ring.right.length;
  ring.right[i] = right;
  ring.yaw[i] = yaw;
  ring.roll[i] = roll;
  ring.newestS = tS;
  ring.count += 1;
}

export function at(values: Float64Array, index: number): number {
  return values[index % values.length]!;
}

export function oldest(ring: MotionRing): number {
  return Math.max(0, ring.count - ring.right.length);
}
