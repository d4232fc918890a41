/** Unit quaternions as {w, x, y, z}; `a * b` rotates by b first. All functions are pure. */
import type { Quaternion } from './types.ts';

export type Vector = readonly [number, number, number];

export const IDENTITY: Quaternion = { w: 1, x: 0, y: 0, z: 0 };

export function multiply(a: Quaternion, b: Quaternion): Quaternion {
  return {
    w: a.w * b.w - a.x * b.x - a.y * b.y - a.z * b.z,
    x: a.w * b.x + a.x * b.w + a.y * b.z - a.z * b.y,
    y: a.w * b.y - a.x * b.z + a.y * b.w + a.z * b.x,
    z: a.w * b.z + a.x * b.y - a.y * b.x + a.z * b.w,
  };
}

export function conjugate(q: Quaternion): Quaternion {
  return { w: q.w, x: -q.x, y: -q.y, z: -q.z };
}

export function normalise(q: Quaternion): Quaternion {
  const norm = Math.sqrt(q.w * q.w + q.x * q.x + q.y * q.y + q.z * q.z);
  return { w: q.w / norm, x: q.x / norm, y: q.y / norm, z: q.z / norm };
}

/** Rotates the vector (x, y, z) by q. */
export function rotate(q: Quaternion, x: number, y: number, z: number): [number, number, number] {
  const tx = 2 * (q.y * z - q.z * y);
  const ty = 2 * (q.z * x - q.x * z);
  const tz = 2 * (q.x * y - q.y * x);
  return [x + q.w * tx + q.y * tz - q.z * ty, y + q.w * ty + q.z * tx - q.x * tz, z + q.w * tz + q.x * ty - q.y * tx];
}

/** The rotation by the rotation vector (x, y, z) in rad: the exact exponential map. */
export function fromRotationVector(x: number, y: number, z: number): Quaternion {
  const angle = Math.sqrt(x * x + y * y + z * z);
  if (angle < 1e-12) return { w: 1, x: x / 2, y: y / 2, z: z / 2 };
  const s = Math.sin(angle / 2) / angle;
  return { w: Math.cos(angle / 2), x: x * s, y: y * s, z: z * s };
}

/** The shortest rotation that takes direction `from` to direction `to`; both need not be unit length. */
export function between(from: Vector, to: Vector): Quaternion {
  const [ax, ay, az] = from;
  const [bx, by, bz] = to;
  const product = Math.sqrt((ax * ax + ay * ay + az * az) * (bx * bx + by * by + bz * bz));
  const w = product + ax * bx + ay * by + az * bz;
  if (w > 1e-9 * product) {
    return normalise({ w, x: ay * bz - az * by, y: az * bx - ax * bz, z: ax * by - ay * bx });
  }
  // Opposite directions: half a turn about any axis at right angles to `from`.
  return Math.abs(ax) < Math.abs(az)
    ? normalise({ w: 0, x: 0, y: -az, z: ay })
    : normalise({ w: 0, x: -ay, y: ax, z: 0 });
}

/** The rotation whose matrix has these columns (an orthonormal right-handed triple): takes the axes to the columns. */
export function fromColumns(c0: Vector, c1: Vector, c2: Vector): Quaternion {
  const [m00, m10, m20] = c0;
  const [m01, m11, m21] = c1;
  const [m02, m12, m22] = c2;
  // Shepperd 1978: divide by the largest component.
  const trace = m00 + m11 + m22;
  if (trace > m00 && trace > m11 && trace > m22) {
    return normalise({ w: 1 + trace, x: m21 - m12, y: m02 - m20, z: m10 - m01 });
  }
  if (m00 >= m11 && m00 >= m22) {
    return normalise({ w: m21 - m12, x: 1 + m00 - m11 - m22, y: m01 + m10, z: m02 + m20 });
  }
  if (m11 >= m22) {
    return normalise({ w: m02 - m20, x: m01 + m10, y: 1 + m11 - m00 - m22, z: m12 + m21 });
  }
  return normalise({ w: m10 - m01, x: m02 + m20, y: m12 + m21, z: 1 + m22 - m00 - m11 });
}

/** The angle of the rotation that takes a to b, rad. */
export function angleBetween(a: Quaternion, b: Quaternion): number {
  return 2 * Math.acos(Math.min(1, Math.abs(a.w * b.w + a.x * b.x + a.y * b.y + a.z * b.z)));
}

export function cross(a: Vector, b: Vector): [number, number, number] {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}

export function dot(a: Vector, b: Vector): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

export function unit(a: Vector): [number, number, number] {
  const norm = Math.sqrt(dot(a, a));
  return [a[0] / norm, a[1] / norm, a[2] / norm];
}
