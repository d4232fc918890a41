/**
 * Stage `smooth`, final analysis only: the pose from both ends of an unbroken run of samples. The fuse stage runs once
 * forwards (already done) and once backwards, and the two directions of gravity are mixed by their variances (two-filter
 * smoother: Fraser & Potter 1969, IEEE Trans Automat Contr 14:387-390, from memory). Between two still moments this
 * spreads the gyroscope's drift over the time between them; in a run-up it takes away what is left of it.
 */
import { advanceFusion, FUSION, startFusion, type FusionParams, type FusionState } from './fuse.ts';
import { emptyPose, posesWithin, readPose, trackOf, writePose, type PoseTrack } from './pose-track.ts';
import { identity, multiplyInto, rotateInto, toVerticalInto, turnAfter, verticalInto } from './quaternion.ts';
import type { FusedSample, GridSample, Quaternion } from './types.ts';

/** Returns new samples with smoothed orientation and its uncertainty; same length, same order. */
export function smoothPoses(
  samples: readonly FusedSample[],
  forward: FusionState,
  rateHz: number,
  params: FusionParams = FUSION,
): FusedSample[] {
  const track = trackOf(samples);
  smoothTrack(track, forward, rateHz, params);
  return posesWithin(track);
}

/** The same in place. */
export function smoothTrack(track: PoseTrack, forward: FusionState, rateHz: number, params = FUSION): void {
  const backward = startFusion(rateHz, params);
  // What the whole recording taught about the bias; turned back in time, a rate changes its sign.
  const [bx, by, bz] = forward.bias.value;
  backward.bias = { value: [-bx, -by, -bz], covariance: [...forward.bias.covariance] };
  const pose = emptyPose();
  const seen: GridSample = {
    tS: NaN,
    ax: NaN,
    ay: NaN,
    az: NaN,
    gx: NaN,
    gy: NaN,
    gz: NaN,
    filled: false,
    fresh: true,
  };
  const room = {
    forwardUp: new Float64Array(3),
    backwardUp: new Float64Array(3),
    backward: identity(),
    turn: identity(),
  };
  // What comes after the last sample is as unknown as what comes after a gap.
  let isNextFresh = true;
  let { gx, gy, gz } = pose;
  for (let i = track.length - 1; i >= 0; i -= 1) {
    readPose(track, i, pose);
    // As the backward filter sees it: the rate of the interval that follows, with the sign changed.
    seen.tS = -pose.tS;
    seen.ax = pose.ax;
    seen.ay = pose.ay;
    seen.az = pose.az;
    seen.gx = -(isNextFresh ? pose.gx : gx);
    seen.gy = -(isNextFresh ? pose.gy : gy);
    seen.gz = -(isNextFresh ? pose.gz : gz);
    seen.filled = pose.filled;
    seen.fresh = isNextFresh;
    isNextFresh = pose.fresh;
    gx = pose.gx;
    gy = pose.gy;
    gz = pose.gz;
    const still = advanceFusion(backward, seen);
    pose.still = pose.still || still;
    mix(pose, backward, room);
    writePose(track, i, pose);
  }
}

/** Room for the vertical in sensor axes as both directions see it, for the backward pose and for the turn. */
interface MixRoom {
  forwardUp: Float64Array;
  backwardUp: Float64Array;
  backward: Quaternion;
  turn: Quaternion;
}

function mix(pose: FusedSample, { correction, inertial }: FusionState, room: MixRoom): void {
  const { forwardUp: f, backwardUp: b } = room;
  const wf = 1 / pose.tiltSigma ** 2;
  const wb = 1 / Math.sqrt(correction.variance) ** 2;
  verticalInto(f, pose.orientation);
  multiplyInto(room.backward, correction.tilt, inertial);
  verticalInto(b, room.backward);
  // The shortest turn: heading stays that of the forward pass.
  rotateInto(f, pose.orientation, f[0]! * wf + b[0]! * wb, f[1]! * wf + b[1]! * wb, f[2]! * wf + b[2]! * wb);
  toVerticalInto(room.turn, f[0]!, f[1]!, f[2]!);
  turnAfter(pose.orientation, room.turn);
  pose.tiltSigma = Math.sqrt(1 / (wf + wb));
}
