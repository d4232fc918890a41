/**
 * Bias of the gyroscope as a Kalman filter over three values that wander slowly. A still moment measures all three; in
 * movement, the rate at which gravity seems to turn away measures the two horizontal ones (idea: Laidig & Seel 2023, Inf
 * Fusion 91:187-204, section on bias estimation during motion).
 */
export interface BiasParams {
  /** Standard deviation before anything is known, rad/s. */
  initialSigma: number;
  /** Growth of the variance with time, (rad/s)^2 per s. */
  wander: number;
  /** Noise of a still measurement, rad/s, when averaged over `stillCorrelationS`; the measured sway is added. */
  stillSigma: number;
  stillCorrelationS: number;
  /** Noise of the movement measurement, rad/s, when averaged over `motionCorrelationS`. */
  /** In a still moment, a rate about the vertical further from the known bias than this, and than three standard deviations, is slow turning, rad/s. */
  stillInnovationMax: number;
  /** What is known of the bias fades with this time constant while still moments contradict it, s: it may have changed after all. */
  contradictionS: number;
  motionSigma: number;
  motionCorrelationS: number;
}

const DEG = Math.PI / 180;

export const BIAS: BiasParams = {
  initialSigma: 1 * DEG,
  wander: (0.1 * DEG) ** 2 / 100,
  stillSigma: 0.03 * DEG,
  stillCorrelationS: 0.5,
  stillInnovationMax: 0.6 * DEG,
  contradictionS: 20,
  motionSigma: 0.3 * DEG,
  motionCorrelationS: 6,
};

export interface BiasState {
  /** rad/s, sensor axes. */
  value: [number, number, number];
  /** Covariance, row by row, (rad/s)^2. */
  covariance: number[];
}

export function startBias(params: BiasParams): BiasState {
  const v = params.initialSigma ** 2;
  return { value: [0, 0, 0], covariance: [v, 0, 0, 0, v, 0, 0, 0, v] };
}

/** Time passes: the bias may have wandered, though never to more uncertainty than at the start. */
export function growBias(params: BiasParams, state: BiasState, dtS: number): void {
  // By the mean over the axes, so that the sensor's own axes mean nothing.
  if (biasSigma(state) >= params.initialSigma) return;
  const p = state.covariance;
  const growth = params.wander * dtS;
  for (let i = 0; i < 9; i += 4) p[i] = p[i]! + growth;
}

/**
 * A still moment measures the bias: mean rate less the turning that gravity itself shows, so that a body that leans slowly
 * does not teach a wrong bias. Turning about the vertical leaves no mark on gravity: where it contradicts what is known, it is
 * taken for movement, and only trust fades.
 *
 * @param rate mean rate of the still moment less the turn of gravity, rad/s
 * @param up direction of gravity in sensor axes, any length
 */
export function measureStillBias(
  params: BiasParams,
  state: BiasState,
  rate: readonly [number, number, number],
  up: readonly [number, number, number],
  noise: number,
  dtS: number,
): void {
  const length = Math.hypot(up[0], up[1], up[2]);
  const u = [up[0] / length, up[1] / length, up[2] / length] as const;
  const left: [number, number, number] = [rate[0] - state.value[0], rate[1] - state.value[1], rate[2] - state.value[2]];
  const vertical = u[0] * left[0] + u[1] * left[1] + u[2] * left[2];
  const allowed = Math.max(params.stillInnovationMax, 3 * biasSigma(state));
  const isTurning = Math.abs(vertical) > allowed;
  if (isTurning && biasSigma(state) < params.initialSigma) {
    for (let i = 0; i < 9; i += 1) state.covariance[i] = state.covariance[i]! * (1 + dtS / params.contradictionS);
  }
  // Three directions square to each other, one of them the vertical.
  const e1 = Math.abs(u[0]) < 0.7 ? unitCross([1, 0, 0], u) : unitCross([0, 1, 0], u);
  const e2 = unitCross(u, e1);
  const innovation = (row: readonly [number, number, number]): number =>
    row[0] * (rate[0] - state.value[0]) + row[1] * (rate[1] - state.value[1]) + row[2] * (rate[2] - state.value[2]);
  measureBias(state, e1, innovation(e1), noise);
  measureBias(state, e2, innovation(e2), noise);
  if (!isTurning) measureBias(state, u, innovation(u), noise);
}

function unitCross(
  a: readonly [number, number, number],
  b: readonly [number, number, number],
): [number, number, number] {
  const x = a[1] * b[2] - a[2] * b[1];
  const y = a[2] * b[0] - a[0] * b[2];
  const z = a[0] * b[1] - a[1] * b[0];
  const length = Math.hypot(x, y, z);
  return [x / length, y / length, z / length];
}

/** One scalar measurement: `row . bias = row . value + innovation`, with variance `noise`. */
export function measureBias(
  state: BiasState,
  row: readonly [number, number, number],
  innovation: number,
  noise: number,
): void {
  const p = state.covariance as [number, number, number, number, number, number, number, number, number];
  const r0 = row[0];
  const r1 = row[1];
  const r2 = row[2];
  const k0 = p[0] * r0 + p[1] * r1 + p[2] * r2;
  const k1 = p[3] * r0 + p[4] * r1 + p[5] * r2;
  const k2 = p[6] * r0 + p[7] * r1 + p[8] * r2;
  const s = r0 * k0 + r1 * k1 + r2 * k2 + noise;
  const g0 = k0 / s;
  const g1 = k1 / s;
  const g2 = k2 / s;
  state.value[0] += g0 * innovation;
  state.value[1] += g1 * innovation;
  state.value[2] += g2 * innovation;
  p[0] -= g0 * k0;
  p[4] -= g1 * k1;
  p[8] -= g2 * k2;
  p[1] = p[3] = (p[1] + p[3]) / 2 - (g0 * k1 + g1 * k0) / 2;
  p[2] = p[6] = (p[2] + p[6]) / 2 - (g0 * k2 + g2 * k0) / 2;
  p[5] = p[7] = (p[5] + p[7]) / 2 - (g1 * k2 + g2 * k1) / 2;
}

/** Standard deviation of the bias about a horizontal axis, rad/s: the mean over the axes. */
export function biasSigma(state: BiasState): number {
  const p = state.covariance;
  return Math.sqrt(((p[0] ?? 0) + (p[4] ?? 0) + (p[8] ?? 0)) / 3);
}
