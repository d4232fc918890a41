/** Zero-phase smoothing: symmetric Gaussian kernels, so that an event is not moved in time. */

/** Kernels reach this many standard deviations to each side. */
const REACH_SIGMAS = 2.5;

export function halfWidth(sigmaS: number, rateHz: number): number {
  return Math.max(1, Math.round(REACH_SIGMAS * sigmaS * rateHz));
}

/** Weights for -half..half, sum 1. */
export function gaussian(sigmaS: number, rateHz: number): Float64Array {
  const half = halfWidth(sigmaS, rateHz);
  const weights = Float64Array.from({ length: 2 * half + 1 }, (_, i) =>
    Math.exp(-0.5 * ((i - half) / (sigmaS * rateHz)) ** 2),
  );
  const sum = weights.reduce((total, w) => total + w, 0);
  return weights.map((w) => w / sum);
}

/** Weights whose product with a signal is the slope per second of the smoothed signal: exact for a straight line. */
export function gaussianSlope(sigmaS: number, rateHz: number): Float64Array {
  const half = halfWidth(sigmaS, rateHz);
  const bell = gaussian(sigmaS, rateHz);
  const weights = bell.map((w, i) => w * (i - half));
  const norm = weights.reduce((total, w, i) => total + w * (i - half), 0) / rateHz;
  return weights.map((w) => w / norm);
}

/** The kernel's product with the ring around sample number `centre`. */
export function convolve(ring: Float64Array, centre: number, kernel: Float64Array): number {
  const half = (kernel.length - 1) / 2;
  const from = (centre - half) % ring.length;
  // In two pieces where the ring ends in between.
  const first = Math.min(kernel.length, ring.length - from);
  let sum = 0;
  for (let i = 0; i < first; i += 1) sum += kernel[i]! * ring[from + i]!;
  for (let i = first; i < kernel.length; i += 1) sum += kernel[i]! * ring[i - first]!;
  return sum;
}

/** The sum of both products around the same sample; the rings and the kernels are of the same lengths. Faster than one after the other. */
export function convolveBoth(
  ringA: Float64Array,
  kernelA: Float64Array,
  ringB: Float64Array,
  kernelB: Float64Array,
  centre: number,
): number {
  const from = (centre - (kernelA.length - 1) / 2) % ringA.length;
  const first = Math.min(kernelA.length, ringA.length - from);
  let a = 0;
  let b = 0;
  for (let i = 0; i < first; i += 1) {
    a += kernelA[i]! * ringA[from + i]!;
    b += kernelB[i]! * ringB[from + i]!;
  }
  for (let i = first; i < kernelA.length; i += 1) {
    a += kernelA[i]! * ringA[i - first]!;
    b += kernelB[i]! * ringB[i - first]!;
  }
  return a + b;
}
