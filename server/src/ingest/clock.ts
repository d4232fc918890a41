/**
 * The clock stage: four-timestamp exchanges (RFC 5905, section 8) become a line from device ticks to UTC, and that line
 * becomes stored times that never run backwards. Pure: every time comes with the input.
 */

/** Offset of the other clock and round trip, in the unit of the arguments. RFC 5905 section 8: theta and delta. */
export function exchangeOffset(t1: number, t2: number, t3: number, t4: number): { theta: number; delta: number } {
  return { theta: (t2 - t1 + (t3 - t4)) / 2, delta: t4 - t1 - (t3 - t2) };
}

/** The server asks: T1 and T4 are server UTC in ms, T2 and T3 device ticks in us. */
export interface Exchange {
  t1UtcMs: number;
  t2TickUs: number;
  t3TickUs: number;
  t4UtcMs: number;
}

export interface ClockParameters {
  /** Exchanges remembered; one a second. */
  window: number;
  /** Exchanges before times are given out. */
  exchangesMin: number;
  /** What is expected of a crystal, one standard deviation. Holds the slope while the window is short. */
  skewSigmaPpm: number;
  /** SPEC.md allows a device no more, so a larger slope comes from delays. */
  skewMaxPpm: number;
  /** Error of an exchange of the smallest delay: timer resolution and scheduling. */
  exchangeSigmaMs: number;
  /** An exchange that contradicts the fit by more than its own half delay and this belongs to another clock setting. */
  stepMs: number;
  /** How much that margin grows with the time since the last exchange. */
  marginPpm: number;
  /** Contradicting exchanges in a row before the fit begins anew from them. */
  stepExchanges: number;
}

export const CLOCK_PARAMETERS: ClockParameters = {
  window: 64,
  exchangesMin: 4,
  skewSigmaPpm: 100,
  skewMaxPpm: 300,
  exchangeSigmaMs: 0.2,
  stepMs: 25,
  marginPpm: 50,
  stepExchanges: 3,
};

interface Observation {
  /** Middle of T2 and T3, ms of device time. */
  tickMs: number;
  /** UTC minus device time at that moment, ms. */
  offsetMs: number;
  delayMs: number;
}

export interface ClockFit {
  /** The line is utcMs = tickMs + offsetMs + skew * (tickMs - originMs). */
  originMs: number;
  offsetMs: number;
  /** Device seconds are shorter than UTC seconds where positive (dimensionless). */
  skew: number;
  /** Weighted scatter of the exchanges about the line, one standard deviation. */
  residualMs: number;
}

export interface ClockState {
  parameters: ClockParameters;
  observations: Observation[];
  suspects: Observation[];
  /** Times the fit had to begin anew: one of the two clocks was set, or is broken. */
  steps: number;
  /** Exchanges that agreed since the last step. */
  steady: number;
  fit: ClockFit | null;
}

export function startClock(parameters: ClockParameters = CLOCK_PARAMETERS): ClockState {
  return { parameters, observations: [], suspects: [], steps: 0, steady: 0, fit: null };
}

export function stepClock(state: ClockState, exchange: Exchange): void {
  const { theta, delta } = exchangeOffset(
    exchange.t1UtcMs,
    exchange.t2TickUs / 1000,
    exchange.t3TickUs / 1000,
    exchange.t4UtcMs,
  );
  // A negative round trip cannot be: one of the clocks was set in between.
  if (delta < 0) return;
  const tickMs = (exchange.t2TickUs + exchange.t3TickUs) / 2000;
  const observation = { tickMs, offsetMs: -theta, delayMs: delta };
  if (contradicts(state, observation)) {
    state.suspects.push(observation);
    if (state.suspects.length < state.parameters.stepExchanges) return;
    state.observations = state.suspects;
    state.steps += 1;
    state.steady = 0;
  } else {
    state.observations.push(observation);
    if (state.observations.length > state.parameters.window) state.observations.shift();
    state.steady += 1;
  }
  state.suspects = [];
  state.fit = fitLine(state.observations, state.parameters);
}

/** Whether times may be given out; `atOnce` settles for a single exchange. */
export function clockReady(state: ClockState, atOnce = false): boolean {
  return (
    state.fit !== null && (atOnce || state.steps > 0 || state.observations.length >= state.parameters.exchangesMin)
  );
}

export function utcMsOf(fit: ClockFit, tickUs: number): number {
  const tickMs = tickUs / 1000;
  return tickMs + fit.offsetMs + fit.skew * (tickMs - fit.originMs);
}

function contradicts(state: ClockState, { tickMs, offsetMs, delayMs }: Observation): boolean {
  const last = state.observations[state.observations.length - 1];
  if (!state.fit || !last) return false;
  const expectedMs = state.fit.offsetMs + state.fit.skew * (tickMs - state.fit.originMs);
  const { stepMs, marginPpm } = state.parameters;
  const marginMs = delayMs / 2 + stepMs + Math.abs(tickMs - last.tickMs) * marginPpm * 1e-6;
  return Math.abs(offsetMs - expectedMs) > marginMs;
}

/**
 * Weighted least squares. The weight falls with the delay above the smallest in the window, since that excess may all
 * lie on one way; the slope is held towards zero by what is expected of a crystal.
 */
function fitLine(
  observations: Observation[],
  { exchangeSigmaMs, skewSigmaPpm, skewMaxPpm }: ClockParameters,
): ClockFit | null {
  const newest = observations[observations.length - 1];
  if (!newest) return null;
  const delayMinMs = Math.min(...observations.map((o) => o.delayMs));
  const originMs = newest.tickMs;
  const baseMs = newest.offsetMs;
  const rows = observations.map((o) => ({
    x: o.tickMs - originMs,
    y: o.offsetMs - baseMs,
    w: 1 / (exchangeSigmaMs + (o.delayMs - delayMinMs) / 2) ** 2,
  }));
  let [sw, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0];
  for (const { x, y, w } of rows) {
    sw += w;
    sx += w * x;
    sy += w * y;
    sxx += w * x * x;
    sxy += w * x * y;
  }
  const prior = 1 / (skewSigmaPpm * 1e-6) ** 2;
  const slope = (sw * sxy - sx * sy) / (sw * (sxx + prior) - sx * sx);
  const skew = Math.max(-skewMaxPpm * 1e-6, Math.min(skewMaxPpm * 1e-6, slope));
  const intercept = (sy - skew * sx) / sw;
  const squares = rows.reduce((sum, { x, y, w }) => sum + w * (y - intercept - skew * x) ** 2, 0);
  return { originMs, offsetMs: baseMs + intercept, skew, residualMs: Math.sqrt(squares / sw) };
}
