/**
 * Unit quaternions as {w, x, y, z}; `a * b` rotates by b first. `...Into` and `turn...` change their first argument and
 * nothing else; all others are pure.
 */
import type { Quaternion } from './types.ts';

export type Vector = readonly [number, number, number];

export const IDENTITY: Quaternion = { w: 1, x: 0, y: 0, z: 0 };

/**
 * A quaternion to be changed in place. Made as all others are: a copy by spreading would be of another hidden class, and
 * everything that meets both is slower by far.
 */
export function identity(): Quaternion {
  return normalise(IDENTITY);
}

export function multiply(a: Quaternion, b: Quaternion): Quaternion {
  return {
    w: a.w * b.w - a.x * b.x - a.y * b.y - a.z * b.z,
    x: a.w * b.x + a.x * b.w + a.y * b.z - a.z * b.y,
    y: a.w * b.y - a.x * b.z + a.y * b.w + a.z * b.x,
    z: a.w * b.z + a.x * b.y - a.y * b.x + a.z * b.w,
  };
}

/** The same into `out`, which may not be one of them. */
export function multiplyInto(out: Quaternion, a: Quaternion, b: Quaternion): void {
  out.w = a.w * b.w - a.x * b.x - a.y * b.y - a.z * b.z;
  out.x = a.w * b.x + a.x * b.w + a.y * b.z - a.z * b.y;
  out.y = a.w * b.y - a.x * b.z + a.y * b.w + a.z * b.x;
  out.z = a.w * b.z + a.x * b.y - a.y * b.x + a.z * b.w;
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

/** The same into `out`, for the loops that run over every sample: nothing is allocated. */
export function rotateInto(out: Float64Array, q: Quaternion, x: number, y: number, z: number): void {
  const tx = 2 * (q.y * z - q.z * y);
  const ty = 2 * (q.z * x - q.x * z);
  const tz = 2 * (q.x * y - q.y * x);
  out[0] = x + q.w * tx + q.y * tz - q.z * ty;
  out[1] = y + q.w * ty + q.z * tx - q.x * tz;
  out[2] = z + q.w * tz + q.x * ty - q.y * tx;
}

/** The vertical (0, 0, 1) turned back by `q`: with a pose of a sensor, up in sensor axes. */
export function verticalInto(out: Float64Array, q: Quaternion): void {
  const { w, x, y, z } = q;
  out[0] = 2 * (x * z - w * y);
  out[1] = 2 * (y * z + w * x);
  out[2] = 1 - 2 * x * x - 2 * y * y;
}

/** `between` from (x, y, z), of any length, to the vertical, into `out`. */
export function toVerticalInto(out: Quaternion, x: number, y: number, z: number): void {
  const length = Math.sqrt(x * x + y * y + z * z);
  if (length + z > 1e-9 * length) setUnit(out, length + z, y, -x, 0);
  else Object.assign(out, between([x, y, z], [0, 0, 1]));
}

/** Turns `q` in place by the unit quaternion `a`, in the axes that `q` leads to: `normalise(multiply(a, q))`. */
export function turnAfter(q: Quaternion, a: Quaternion): void {
  setUnit(
    q,
    a.w * q.w - a.x * q.x - a.y * q.y - a.z * q.z,
    a.w * q.x + a.x * q.w + a.y * q.z - a.z * q.y,
    a.w * q.y - a.x * q.z + a.y * q.w + a.z * q.x,
    a.w * q.z + a.x * q.y - a.y * q.x + a.z * q.w,
  );
}

function setUnit(q: Quaternion, w: number, x: number, y: number, z: number): void {
  const norm = Math.sqrt(w * w + x * x + y * y + z * z);
  q.w = w / norm;
  q.x = x / norm;
  q.y = y / norm;
  q.z = z / norm;
}

/** Turns `q` in place by the rotation vector (x, y, z) in its own axes: `normalise(multiply(q, fromRotationVector(x, y, z)))`. */
export function turnBy(q: Quaternion, x: number, y: number, z: number): void {
  const angle = Math.sqrt(x * x + y * y + z * z);
  const isTiny = angle < 1e-12;
  const s = isTiny ? 0.5 : Math.sin(angle / 2) / angle;
  const bw = isTiny ? 1 : Math.cos(angle / 2);
  const bx = x * s;
  const by = y * s;
  const bz = z * s;
  setUnit(
    q,
    q.w * bw - q.x * bx - q.y * by - q.z * bz,
    q.w * bx + q.x * bw + q.y * bz - q.z * by,
    q.w * by - q.x * bz + q.y * bw + q.z * bx,
    q.w * bz + q.x * by - q.y * bx + q.z * bw,
  );
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
  const ax = from[0];
  const ay = from[1];
  const az = from[2];
  const bx = to[0];
  const by = to[1];
  const bz = to[2];
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
