/**
 * Rotations of the synthetic athlete. Written apart from the analysis, so that one error cannot hide in both.
 * Quaternions are [w, x, y, z], unit, turning vectors of the inner frame (segment, sensor) into the outer (world, segment).
 * Segment axes follow the ISB: X forward, Y up, Z to the right.
 */
export type Quat = readonly [number, number, number, number];
export type Vec3 = readonly [number, number, number];

export const IDENTITY: Quat = [1, 0, 0, 0];

export function multiply(p: Quat, q: Quat): Quat {
  return [
    p[0] * q[0] - p[1] * q[1] - p[2] * q[2] - p[3] * q[3],
    p[0] * q[1] + p[1] * q[0] + p[2] * q[3] - p[3] * q[2],
    p[0] * q[2] - p[1] * q[3] + p[2] * q[0] + p[3] * q[1],
    p[0] * q[3] + p[1] * q[2] - p[2] * q[1] + p[3] * q[0],
  ];
}

export function inverse(q: Quat): Quat {
  return [q[0], -q[1], -q[2], -q[3]];
}

export function rotate(q: Quat, v: Vec3): Vec3 {
  const tx = 2 * (q[2] * v[2] - q[3] * v[1]);
  const ty = 2 * (q[3] * v[0] - q[1] * v[2]);
  const tz = 2 * (q[1] * v[1] - q[2] * v[0]);
  return [
    v[0] + q[0] * tx + q[2] * tz - q[3] * ty,
    v[1] + q[0] * ty + q[3] * tx - q[1] * tz,
    v[2] + q[0] * tz + q[1] * ty - q[2] * tx,
  ];
}

/** Rotation by the length of `v` (rad) about its direction. */
export function fromRotationVector(v: Vec3): Quat {
  const angle = Math.hypot(v[0], v[1], v[2]);
  const s = angle < 1e-9 ? 0.5 : Math.sin(angle / 2) / angle;
  return [Math.cos(angle / 2), s * v[0], s * v[1], s * v[2]];
}

export function toRotationVector(q: Quat): Vec3 {
  const sign = q[0] < 0 ? -1 : 1;
  const sine = Math.hypot(q[1], q[2], q[3]);
  const s = sine < 1e-9 ? 2 * sign : (2 * sign * Math.atan2(sine, sign * q[0])) / sine;
  return [s * q[1], s * q[2], s * q[3]];
}

/**
 * Segment to world from the turn to the left, the right-side-up tilt and the forward tilt (rad), in the order
 * rotation, obliquity, tilt of Baker 2001: the obliquity is then exactly asin of the vertical component of Z.
 */
export function fromHeadingLateralForward(left: number, rightUp: number, forward: number): Quat {
  const turn: Quat = [Math.cos(left / 2), 0, Math.sin(left / 2), 0];
  const roll: Quat = [Math.cos(rightUp / 2), -Math.sin(rightUp / 2), 0, 0];
  const pitch: Quat = [Math.cos(forward / 2), 0, 0, -Math.sin(forward / 2)];
  return multiply(multiply(turn, roll), pitch);
}

/** asin of the vertical component of the segment's Z axis, rad: positive with the right side up. */
export function lateralTiltOf(q: Quat): number {
  return Math.asin(Math.max(-1, Math.min(1, 2 * (q[2] * q[3] - q[0] * q[1]))));
}

/** Forward tilt in rad, positive forward: the last angle of the order above. */
export function forwardTiltOf(q: Quat): number {
  const xUp = 2 * (q[1] * q[2] + q[0] * q[3]);
  const yUp = 1 - 2 * (q[1] * q[1] + q[3] * q[3]);
  return Math.atan2(-xUp, yUp);
}

/** Turn to the left in rad, in (-pi, pi]: the first angle of the order above, from the horizontal part of Z. */
export function headingOf(q: Quat): number {
  const zx = 2 * (q[1] * q[3] + q[0] * q[2]);
  const zz = 1 - 2 * (q[1] * q[1] + q[2] * q[2]);
  return Math.atan2(zx, zz);
}
