/**
 * Gives the batches of one stream their stored times: they follow the clock's fit, but slowly, so that a better
 * fit does not stretch a stride, and never backwards.
 */
import { utcMsOf, type ClockFit } from './clock.ts';

/** How fast stored time may run off from device time to follow the fit: 2 ms a second, 0.5 ms in a long contact. */
export const SLEW_PPM = 2000;
/** Beyond this the clock was set rather than badly known: forward the stored time jumps, back it runs slow. */
export const STEP_MS = 50;
/** Rate at which stored time waits for a clock that was set back. */
export const SLOW_DOWN_PPM = 100_000;

export interface StampState {
  /** Device time of the end of the last stamped batch; null at the start and after a restart of the server. */
  tickUs: number | null;
  /** Its stored time; null when nothing has been stored. */
  utcMs: number | null;
}

export interface Stamped {
  firstUtcMs: number;
  endUtcMs: number;
}

/** Times of the first sample and of the one after the last; changes `state`. */
export function stampBatch(state: StampState, fit: ClockFit, firstTickUs: number, endTickUs: number): Stamped {
  const firstUtcMs = advance(state, fit, firstTickUs, true);
  const endUtcMs = advance(state, fit, endTickUs, false);
  return { firstUtcMs, endUtcMs };
}

function advance(state: StampState, fit: ClockFit, tickUs: number, mayJump: boolean): number {
  const targetMs = utcMsOf(fit, tickUs);
  let utcMs: number;
  if (state.tickUs === null || state.utcMs === null) {
    utcMs = Math.max(targetMs, state.utcMs ?? -Infinity);
  } else {
    const elapsedMs = ((tickUs - state.tickUs) / 1000) * (1 + fit.skew);
    const predictedMs = state.utcMs + elapsedMs;
    const errorMs = targetMs - predictedMs;
    if (mayJump && errorMs > STEP_MS) {
      utcMs = targetMs;
    } else {
      const ppm = errorMs < -STEP_MS ? SLOW_DOWN_PPM : SLEW_PPM;
      const slewMs = Math.max(0, elapsedMs) * ppm * 1e-6;
      utcMs = predictedMs + Math.max(-slewMs, Math.min(slewMs, errorMs));
    }
    // A first tick a little before the last end is jitter of the sensor.
    utcMs = Math.max(utcMs, state.utcMs);
  }
  state.tickUs = tickUs;
  state.utcMs = utcMs;
  return utcMs;
}
