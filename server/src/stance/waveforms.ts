/** Angles against 0-100 % of stance: mean and standard deviation over the stances of each side (BIOMECHANICS 5). */
import {
  SIDES,
  WAVEFORM_KEYS,
  WAVEFORM_POINTS,
  type Stance,
  type Waveform,
  type WaveformKey,
  type Waveforms,
} from '@ambipede/shared';
import { signOf } from './measure.ts';
import { indexAt, type StanceFrames } from './stance-frames.ts';

const DECIMALS = 3;

/** Value of a frame, + right side up or ahead; a stance's sign makes it side-relative. */
const VALUE: Record<WaveformKey, (frames: StanceFrames, i: number) => number> = {
  swingSideHeightDeg: (frames, i) => frames.obliquityDeg[i]!,
  leanToStanceDeg: (frames, i) => frames.trunkTiltDeg[i]!,
  sideBendDeg: (frames, i) => frames.trunkTiltDeg[i]! - frames.obliquityDeg[i]!,
  separationDeg: (frames, i) => frames.separationDeg[i]!,
};

export function waveformsOf(frames: StanceFrames, stances: readonly Stance[]): Waveforms {
  const ofSide = (side: 'left' | 'right'): Waveforms['left'] => {
    const own = stances.filter((stance) => stance.side === side);
    const entries = WAVEFORM_KEYS.map((key) => [key, summarise(own.flatMap((stance) => curveOf(frames, stance, key)))]);
    return Object.fromEntries(entries) as Waveforms['left'];
  };
  const [left, right] = SIDES.map(ofSide);
  return { left: left!, right: right! };
}

/** One curve, or none where a frame of it is not known. */
function curveOf(frames: StanceFrames, stance: Stance, key: WaveformKey): number[][] {
  const { initialContact, toeOff } = stance;
  const sign = signOf(stance.side);
  const curve: number[] = [];
  for (let k = 0; k < WAVEFORM_POINTS; k += 1) {
    const tS = initialContact + ((toeOff - initialContact) * k) / (WAVEFORM_POINTS - 1);
    const after = Math.min(Math.max(1, indexAt(frames, tS)), frames.t.length - 1);
    const fromS = frames.t[after - 1]!;
    const share = Math.min(1, Math.max(0, (tS - fromS) / (frames.t[after]! - fromS)));
    const value = (1 - share) * VALUE[key](frames, after - 1) + share * VALUE[key](frames, after);
    if (!Number.isFinite(value)) return [];
    curve.push(sign * value);
  }
  return [curve];
}

function summarise(curves: readonly number[][]): Waveform | null {
  const n = curves.length;
  if (n === 0) return null;
  const mean: number[] = [];
  const sd: number[] = [];
  for (let k = 0; k < WAVEFORM_POINTS; k += 1) {
    const average = curves.reduce((sum, curve) => sum + curve[k]!, 0) / n;
    const squares = curves.reduce((sum, curve) => sum + (curve[k]! - average) ** 2, 0);
    mean.push(round(average));
    sd.push(round(Math.sqrt(squares / (n - 1))));
  }
  return { n, mean, sd: n > 1 ? sd : null };
}

function round(value: number): number {
  return Math.round(value * 10 ** DECIMALS) / 10 ** DECIMALS;
}
