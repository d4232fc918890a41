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
export function curveOf(frames: StanceFrames, stance: Stance, key: WaveformKey): number[][] {
  const { initialContact, toeOff } = stance;
  const sign = signOf(stance.side);
  const curve: number[] = [];
  let at = indexAt(frames, initialContact);
  for (let k = 0; k < WAVEFORM_POINTS; k += 1) {
    const tS = initialContact + ((toeOff - initialContact) * k) / (WAVEFORM_POINTS - 1);
    while (at < frames.t.length && frames.t[at]! < tS) at += 1;
    const after = Math.min(Math.max(1, at), frames.t.length - 1);
    const fromS = frames.t[after - 1]!;
    const share = Math.min(1, Math.max(0, (tS - fromS) / (frames.t[after]! - fromS)));
    const value = (1 - share) * VALUE[key](frames, after - 1) + share * VALUE[key](frames, after);
    if (!Number.isFinite(value)) return [];
    curve.push(sign * value);
  }
  return [curve];
}

export function summarise(curves: readonly number[][]): Waveform | null {
  const n = curves.length;
  if (n === 0) return null;
  const mean: number[] = [];
  const sd: number[] = [];
  for (let k = 0; k < WAVEFORM_POINTS; k += 1) {
    let sum = 0;
    for (const curve of curves) sum += curve[k]!;
    const average = sum / n;
    let squares = 0;
    for (const curve of curves) squares += (curve[k]! - average) ** 2;
    mean.push(round(average));
    sd.push(round(Math.sqrt(squares / (n - 1))));
  }
  return { n, mean, sd: n > 1 ? sd : null };
}

function round(value: number): number {
  return Math.round(value * 10 ** DECIMALS) / 10 ** DECIMALS;
}
