/** Angles over the stance: mean and scatter at 0 to 100 % of it, per side, left over right. */
import type { Side } from './body.ts';

export const WAVEFORM_KEYS = ['swingSideHeightDeg', 'leanToStanceDeg', 'sideBendDeg', 'separationDeg'] as const;
/** Side-relative, so that both sides have the same sign: side-bend + opens the free side, separation + free side of the chest ahead. */
export type WaveformKey = (typeof WAVEFORM_KEYS)[number];

/** 0, 2 ... 100 % of stance. */
export const WAVEFORM_POINTS = 51;

export interface Waveform {
  /** Stances behind it. */
  n: number;
  /** `WAVEFORM_POINTS` values, deg. */
  mean: number[];
  /** Standard deviation between the stances; null with one stance. */
  sd: number[] | null;
}

/** Null: no stance of that side with this angle. */
export type Waveforms = Record<Side, Record<WaveformKey, Waveform | null>>;
