/**
 * Stage `regularise`: one sensor's samples onto an unbroken grid. Short gaps are interpolated and flagged; a long gap
 * or a jump of the clock starts afresh. Samples with a component that is not finite are treated as missing.
 */
import type { GridSample, ImuSample } from './types.ts';

/** A gap up to this long is filled by straight lines (BIOMECHANICS 4). */
export const GAP_FILLED_S_MAX = 0.05;

export interface RegulariseState {
  readonly intervalS: number;
  /** True when the sensor has a gyroscope: a sample without it then counts as missing. */
  readonly hasGyroscope: boolean;
  last: ImuSample | null;
  gapsFilled: number;
  samplesFilled: number;
  breaks: number;
  dropped: number;
}

/** @throws RangeError when the rate is not a positive number. */
export function startRegularise(rateHz: number, hasGyroscope: boolean): RegulariseState {
  if (!(rateHz > 0)) throw new RangeError(`The sample rate must be a positive number of Hz, not ${rateHz}.`);
  return { intervalS: 1 / rateHz, hasGyroscope, last: null, gapsFilled: 0, samplesFilled: 0, breaks: 0, dropped: 0 };
}

function isUsable(sample: ImuSample, hasGyroscope: boolean): boolean {
  const acceleration = sample.ax + sample.ay + sample.az;
  const rate = hasGyroscope ? sample.gx + sample.gy + sample.gz : 0;
  return Number.isFinite(sample.tS) && Number.isFinite(acceleration) && Number.isFinite(rate);
}

export function stepRegularise(state: RegulariseState, sample: ImuSample): GridSample[] {
  const { last, intervalS } = state;
  if (!isUsable(sample, state.hasGyroscope) || (last !== null && sample.tS <= last.tS)) {
    state.dropped += 1;
    return [];
  }
  state.last = sample;
  if (last === null) return [onGrid(sample, true)];

  const elapsedS = sample.tS - last.tS;
  // The missing time is what lies beyond one regular interval.
  const missing = Math.round(elapsedS / intervalS) - 1;
  if (missing <= 0) return [onGrid(sample, false)];
  if (elapsedS - intervalS > GAP_FILLED_S_MAX + intervalS / 2) {
    state.breaks += 1;
    return [onGrid(sample, true)];
  }
  state.gapsFilled += 1;
  state.samplesFilled += missing;
  const out: GridSample[] = [];
  for (let i = 1; i <= missing; i += 1) out.push(interpolate(last, sample, i / (missing + 1)));
  out.push(onGrid(sample, false));
  return out;
}

/** Written out: this runs for every sample, and a spread costs more than all the rest of the stage. */
function onGrid(s: ImuSample, fresh: boolean): GridSample {
  const { tS, ax, ay, az, gx, gy, gz } = s;
  return { tS, ax, ay, az, gx, gy, gz, filled: false, fresh };
}

function interpolate(a: ImuSample, b: ImuSample, share: number): GridSample {
  const mix = (from: number, to: number): number => from + (to - from) * share;
  return {
    tS: mix(a.tS, b.tS),
    ax: mix(a.ax, b.ax),
    ay: mix(a.ay, b.ay),
    az: mix(a.az, b.az),
    gx: mix(a.gx, b.gx),
    gy: mix(a.gy, b.gy),
    gz: mix(a.gz, b.gz),
    filled: true,
    fresh: false,
  };
}
