/**
 * Stage `smooth`, final analysis only: the pose from both ends of an unbroken run of samples. The fuse stage runs once
 * forwards (already done) and once backwards, and the two directions of gravity are mixed by their variances (two-filter
 * smoother: Fraser & Potter 1969, IEEE Trans Automat Contr 14:387-390, from memory). Between two still moments this
 * spreads the gyroscope's drift over the time between them; in a run-up it takes away what is left of it.
 */
import type { FusionParams } from './fuse.ts';
import { FUSION, startFusion, stepFusion, type FusionState } from './fuse.ts';
import { between, conjugate, multiply, normalise, rotate } from './quaternion.ts';
import type { FusedSample, GridSample } from './types.ts';

/** Returns new samples with smoothed orientation and its uncertainty; same length, same order. */
export function smoothPoses(
  samples: readonly FusedSample[],
  forward: FusionState,
  rateHz: number,
  params: FusionParams = FUSION,
): FusedSample[] {
  const backward = startFusion(rateHz, params);
  // What the whole recording taught about the bias; turned back in time, a rate changes its sign.
  const [bx, by, bz] = forward.bias.value;
  backward.bias = { value: [-bx, -by, -bz], covariance: [...forward.bias.covariance] };
  const out = new Array<FusedSample>(samples.length);
  for (let i = samples.length - 1; i >= 0; i -= 1) {
    const sample = samples[i]!;
    out[i] = mix(sample, stepFusion(backward, reversed(sample, samples[i + 1])));
  }
  return out;
}

/** The sample as the backward filter sees it: the rate of the interval that follows it, with the sign changed. */
function reversed(sample: FusedSample, next: FusedSample | undefined): GridSample {
  const fresh = next === undefined || next.fresh;
  const source = fresh ? sample : next;
  return {
    tS: -sample.tS,
    ax: sample.ax,
    ay: sample.ay,
    az: sample.az,
    gx: -source.gx,
    gy: -source.gy,
    gz: -source.gz,
    filled: sample.filled,
    fresh,
  };
}

function mix(forward: FusedSample, backward: FusedSample): FusedSample {
  const wf = 1 / forward.tiltSigma ** 2;
  const wb = 1 / backward.tiltSigma ** 2;
  const f = rotate(conjugate(forward.orientation), 0, 0, 1);
  const b = rotate(conjugate(backward.orientation), 0, 0, 1);
  const up = [f[0] * wf + b[0] * wb, f[1] * wf + b[1] * wb, f[2] * wf + b[2] * wb] as const;
  // The shortest turn: heading stays that of the forward pass.
  const seen = rotate(forward.orientation, up[0], up[1], up[2]);
  const { tS, ax, ay, az, gx, gy, gz, filled, fresh, biasX, biasY, biasZ } = forward;
  return {
    tS,
    ax,
    ay,
    az,
    gx,
    gy,
    gz,
    filled,
    fresh,
    orientation: normalise(multiply(between(seen, [0, 0, 1]), forward.orientation)),
    biasX,
    biasY,
    biasZ,
    still: forward.still || backward.still,
    tiltSigma: Math.sqrt(1 / (wf + wb)),
  };
}
