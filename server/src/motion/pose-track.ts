/**
 * Poses of one sensor in order of time, as rows of numbers in one typed array. As objects, a recording or a look-back costs
 * five times the memory, and moving them about in it costs the collector more time than all of their filtering.
 */
import type { FusedSample } from './types.ts';

const WIDTH = 15;
const GROWTH = 1.5;
const ROOM_MIN = 64;
const FILLED = 1;
const FRESH = 2;
const STILL = 4;

export interface PoseTrack {
  length: number;
  /** Per pose: time, specific force, rate, orientation, bias, sigma; what lies beyond `length` means nothing. */
  values: Float64Array;
  /** Per pose: filled, fresh and still as bits. */
  flags: Uint8Array;
}

/** @param capacity poses that are expected; it grows when more come */
export function startTrack(capacity: number): PoseTrack {
  return { length: 0, values: new Float64Array(capacity * WIDTH), flags: new Uint8Array(capacity) };
}

export function trackOf(poses: readonly FusedSample[]): PoseTrack {
  const track = startTrack(poses.length);
  for (const pose of poses) addPose(track, pose);
  return track;
}

/** A pose to be filled by `readPose`. */
export function emptyPose(): FusedSample {
  return {
    tS: NaN,
    ax: NaN,
    ay: NaN,
    az: NaN,
    gx: NaN,
    gy: NaN,
    gz: NaN,
    filled: false,
    fresh: false,
    orientation: { w: NaN, x: NaN, y: NaN, z: NaN },
    biasX: NaN,
    biasY: NaN,
    biasZ: NaN,
    still: false,
    tiltSigma: NaN,
  };
}

export function addPose(track: PoseTrack, pose: FusedSample): void {
  if (track.length === track.flags.length) grow(track);
  track.length += 1;
  writePose(track, track.length - 1, pose);
}

function grow(track: PoseTrack): void {
  const capacity = Math.max(ROOM_MIN, Math.ceil(track.length * GROWTH));
  const { values, flags } = track;
  track.values = new Float64Array(capacity * WIDTH);
  track.values.set(values);
  track.flags = new Uint8Array(capacity);
  track.flags.set(flags);
}

export function writePose(track: PoseTrack, index: number, pose: FusedSample): void {
  const { values } = track;
  const { orientation } = pose;
  const at = index * WIDTH;
  values[at] = pose.tS;
  values[at + 1] = pose.ax;
  values[at + 2] = pose.ay;
  values[at + 3] = pose.az;
  values[at + 4] = pose.gx;
  values[at + 5] = pose.gy;
  values[at + 6] = pose.gz;
  values[at + 7] = orientation.w;
  values[at + 8] = orientation.x;
  values[at + 9] = orientation.y;
  values[at + 10] = orientation.z;
  values[at + 11] = pose.biasX;
  values[at + 12] = pose.biasY;
  values[at + 13] = pose.biasZ;
  values[at + 14] = pose.tiltSigma;
  track.flags[index] = (pose.filled ? FILLED : 0) | (pose.fresh ? FRESH : 0) | (pose.still ? STILL : 0);
}

/** Fills `into` with the pose at `index`, below `track.length`, and returns it. */
export function readPose(track: PoseTrack, index: number, into: FusedSample): FusedSample {
  const { values } = track;
  const { orientation } = into;
  const at = index * WIDTH;
  const flags = track.flags[index]!;
  into.tS = values[at]!;
  into.ax = values[at + 1]!;
  into.ay = values[at + 2]!;
  into.az = values[at + 3]!;
  into.gx = values[at + 4]!;
  into.gy = values[at + 5]!;
  into.gz = values[at + 6]!;
  orientation.w = values[at + 7]!;
  orientation.x = values[at + 8]!;
  orientation.y = values[at + 9]!;
  orientation.z = values[at + 10]!;
  into.biasX = values[at + 11]!;
  into.biasY = values[at + 12]!;
  into.biasZ = values[at + 13]!;
  into.tiltSigma = values[at + 14]!;
  into.filled = (flags & FILLED) !== 0;
  into.fresh = (flags & FRESH) !== 0;
  into.still = (flags & STILL) !== 0;
  return into;
}

export function timeAt(track: PoseTrack, index: number): number {
  return track.values[index * WIDTH]!;
}

export function setTimeAt(track: PoseTrack, index: number, tS: number): void {
  track.values[index * WIDTH] = tS;
}

/** The poses from `fromS` to `toS`, both included, as objects of their own. */
export function posesWithin(track: PoseTrack, fromS = -Infinity, toS = Infinity): FusedSample[] {
  const poses: FusedSample[] = [];
  for (let i = 0; i < track.length; i += 1) {
    const tS = timeAt(track, i);
    if (tS >= fromS && tS <= toS) poses.push(readPose(track, i, emptyPose()));
  }
  return poses;
}

export function dropOldest(track: PoseTrack, count: number): void {
  track.values.copyWithin(0, count * WIDTH, track.length * WIDTH);
  track.flags.copyWithin(0, count, track.length);
  track.length -= count;
}
