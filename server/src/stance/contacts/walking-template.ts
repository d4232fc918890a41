/**
 * The final look at a walking step: where the initial contact and the other foot's toe-off lie, from the shape of the
 * forward and the vertical acceleration over one step time around the step signal's maximum. Linear in the shape;
 * the weights were fitted once, robustly, to half of the people of open recordings and to simulated walking of many
 * styles, and measured on the others (docs/algorithms/contacts.md).
 */
import { at, oldest, type History } from './history.ts';
import { convolve } from './kernels.ts';

/** The shape is read at these places, in step times from the maximum. */
const PLACES = [-0.4, -0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3, 0.4];

interface Weights {
  offset: number;
  forward: readonly number[];
  up: readonly number[];
}

/** Initial contact before the maximum, in step times. */
const LEAD: Weights = {
  offset: 0.1259,
  forward: [-0.0047, -0.0224, 0.012, -0.0031, 0.0154, -0.0011, 0.0322, -0.0438, 0.0017],
  up: [0.0024, 0.044, -0.0431, 0.0206, -0.0056, -0.0169, -0.0, -0.0128, -0.0171],
};
const LEAD_RANGE = [0.02, 0.17] as const;
/**
 * From simulated walking: slow, the contact is further before, by this much per natural log of the step time over
 * `fromS`; limping, both events are moved per natural log of the step time before over the one after, beyond `usual`, which people
 * without a limp have.
 */
const SLOW_LEAD = { fromS: 0.65, perLog: 0.06 };
const LIMP = { usual: 0.08, lead: -0.065, lag: 0.043 };

/** Toe-off of the other foot after the maximum, in step times. */
const LAG: Weights = {
  offset: 0.1333,
  forward: [0.0006, 0.0322, -0.0303, 0.0236, -0.0246, 0.0082, -0.0248, 0.0201, 0.0198],
  up: [0.019, -0.0516, 0.0112, 0.0095, 0.0014, 0.024, -0.0269, -0.004, 0.0322],
};
const LAG_RANGE = [0.08, 0.35] as const;

/** Keeps the shape of a very weak step from being mostly noise, m/s^2. */
const SIZE_FLOOR = 0.2;

/**
 * @param peak sample number of the maximum
 * @param step its time, the alternation of step times as natural log of the one before over the one after, and samples
 *   per second
 * @param kernel light smoothing for reading the shape
 * @returns in step times, or null where the shape is not all there.
 */
export function readStep(
  history: History,
  peak: number,
  step: { stepS: number; limp: number; rateHz: number },
  kernel: Float64Array,
): { lead: number; lag: number } | null {
  const half = (kernel.length - 1) / 2;
  const forward: number[] = [];
  const up: number[] = [];
  for (const place of PLACES) {
    const centre = Math.round(peak + place * step.stepS * step.rateHz);
    if (centre - half < oldest(history) || centre + half >= history.count) return null;
    forward.push(convolve(history.forward, centre, kernel));
    up.push(convolve(history.up, centre, kernel));
  }
  let square = 0;
  for (let i = 0; i < PLACES.length; i += 1) square += forward[i]! ** 2 + up[i]! ** 2;
  const size = Math.sqrt(square / (2 * PLACES.length)) + SIZE_FLOOR;
  const limp = Math.sign(step.limp) * Math.max(0, Math.abs(step.limp) - LIMP.usual);
  return {
    lead: clamp(weigh(LEAD, forward, up, size), LEAD_RANGE) + slowLead(step.stepS) + LIMP.lead * limp,
    lag: clamp(weigh(LAG, forward, up, size), LAG_RANGE) + LIMP.lag * limp,
  };
}

function slowLead(stepS: number): number {
  return SLOW_LEAD.perLog * Math.max(0, Math.log(stepS / SLOW_LEAD.fromS));
}

/** How far the pelvis tilted over a step's time, rad; 0 where the tilt is not known. */
export function bendAround(history: History, peak: number, before: number, after: number): number {
  const from = Math.max(oldest(history), Math.round(peak) - before);
  const to = Math.min(history.count - 1, Math.round(peak) + after);
  const bend = Math.abs(at(history.tilt, to) - at(history.tilt, from));
  return Number.isFinite(bend) ? bend : 0;
}

function weigh(weights: Weights, forward: readonly number[], up: readonly number[], size: number): number {
  let sum = 0;
  for (let i = 0; i < PLACES.length; i += 1) {
    sum += weights.forward[i]! * forward[i]! + weights.up[i]! * up[i]!;
  }
  return weights.offset + sum / size;
}

function clamp(value: number, range: readonly [number, number]): number {
  return Math.min(range[1], Math.max(range[0], value));
}
