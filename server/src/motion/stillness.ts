/**
 * Is the sensor still? Both the angular velocity and the specific force must stay near their own slow mean for a while.
 * Used by the fuse stage for the gyroscope bias and by the mount stage for the reference stand.
 */
import type { ImuSample } from './types.ts';

export interface StillnessParams {
  /** Largest deviation from the slow mean, rad/s (2 deg/s: a person standing quietly sways by less). */
  rateDeviationMax: number;
  /** m/s^2. */
  accelerationDeviationMax: number;
  /** Above this mean rate it is movement, not bias, rad/s (uncalibrated consumer gyroscopes: up to 10 deg/s, from memory). */
  meanRateMax: number;
  /** How long it must last before it counts, s. */
  durationS: number;
  /** Time constant of the slow mean, s. */
  meanS: number;
}

export const STILLNESS: StillnessParams = {
  rateDeviationMax: (2.5 * Math.PI) / 180,
  accelerationDeviationMax: 0.5,
  meanRateMax: (12 * Math.PI) / 180,
  durationS: 1.2,
  meanS: 0.5,
};

export interface StillnessState {
  started: boolean;
  /** Slow means of gx, gy, gz, ax, ay, az. */
  mean: number[];
  /** Turning rate about the horizontal that the slow mean of the specific force shows by itself, rad/s. */
  forceTurn: [number, number, number];
  /** Slow mean of the squared rate deviation, (rad/s)^2 per axis. */
  rateVariance: number;
  stillForS: number;
}

export function startStillness(): StillnessState {
  return { started: false, mean: [0, 0, 0, 0, 0, 0], forceTurn: [0, 0, 0], rateVariance: 0, stillForS: 0 };
}

/** Takes one sample after `dtS` seconds; true once stillness has lasted. Changes `state`. */
export function stepStillness(
  params: StillnessParams,
  state: StillnessState,
  dtS: number,
  { gx, gy, gz, ax, ay, az }: ImuSample,
): boolean {
  const mean = state.mean as [number, number, number, number, number, number];
  if (!state.started) {
    state.started = true;
    state.mean = [gx, gy, gz, ax, ay, az];
    return false;
  }
  const share = dtS / (params.meanS + dtS);
  const px = mean[3];
  const py = mean[4];
  const pz = mean[5];
  mean[0] += (gx - mean[0]) * share;
  mean[1] += (gy - mean[1]) * share;
  mean[2] += (gz - mean[2]) * share;
  mean[3] += (ax - mean[3]) * share;
  mean[4] += (ay - mean[4]) * share;
  mean[5] += (az - mean[5]) * share;
  turnOfForce(state.forceTurn, mean, px, py, pz, dtS);
  const rate2 = (gx - mean[0]) ** 2 + (gy - mean[1]) ** 2 + (gz - mean[2]) ** 2;
  const acceleration2 = (ax - mean[3]) ** 2 + (ay - mean[4]) ** 2 + (az - mean[5]) ** 2;
  const meanRate2 = mean[0] ** 2 + mean[1] ** 2 + mean[2] ** 2;
  const isQuiet =
    rate2 <= params.rateDeviationMax ** 2 &&
    acceleration2 <= params.accelerationDeviationMax ** 2 &&
    meanRate2 <= params.meanRateMax ** 2;
  state.stillForS = isQuiet ? state.stillForS + dtS : 0;
  // Until it has settled the variance would be that of the movement before.
  state.rateVariance = isQuiet
    ? state.rateVariance + (rate2 / 3 - state.rateVariance) * share
    : params.rateDeviationMax ** 2;
  return state.stillForS >= params.durationS;
}

/**
 * A direction fixed in space moves as da/dt = a x w in a body that turns with w; so w = -a x da/dt, square to a.
 * What is left of the gyroscope's rate after this is bias, even while the body leans slowly.
 */
function turnOfForce(
  out: [number, number, number],
  mean: readonly [number, number, number, number, number, number],
  px: number,
  py: number,
  pz: number,
  dtS: number,
): void {
  const nx = mean[3];
  const ny = mean[4];
  const nz = mean[5];
  const scale = 1 / ((nx * nx + ny * ny + nz * nz) * dtS);
  const dx = nx - px;
  const dy = ny - py;
  const dz = nz - pz;
  out[0] = -(ny * dz - nz * dy) * scale;
  out[1] = -(nz * dx - nx * dz) * scale;
  out[2] = -(nx * dy - ny * dx) * scale;
}
