/** The curves of a trial's stances, each taken while its frames are still there, and what they make together. */
import { LIVE_WAVEFORM_KEYS, SIDES, type LiveWaveforms, type Side, type Stance } from '@ambipede/shared';
import type { StanceFrames } from '../stance/stance-frames.ts';
import { curveOf, summarise } from '../stance/waveforms.ts';

/** Live bands are over the newest so many stances; the final ones are over all. */
export const LIVE_CURVES_MAX = 1000;

type Key = (typeof LIVE_WAVEFORM_KEYS)[number];

export class LiveCurves {
  /** One curve per key, or none where an angle was not known. By stance. */
  readonly #curves = new Map<number, Record<Key, number[][]>>();
  #changed = false;
  #told = '';

  take(stance: Stance, frames: StanceFrames): void {
    this.#curves.delete(stance.id);
    if (this.#curves.size >= LIVE_CURVES_MAX) this.#curves.delete(this.#curves.keys().next().value!);
    const curves = LIVE_WAVEFORM_KEYS.map((key) => [key, curveOf(frames, stance, key)]);
    this.#curves.set(stance.id, Object.fromEntries(curves) as Record<Key, number[][]>);
    this.#changed = true;
  }

  withdraw(stanceId: number): void {
    if (this.#curves.delete(stanceId)) this.#changed = true;
  }

  clear(): void {
    this.#changed ||= this.#curves.size > 0;
    this.#curves.clear();
  }

  /** Over these stances, as far as their curves are kept. */
  summary(stances: readonly Stance[]): LiveWaveforms {
    const ofSide = (side: Side): LiveWaveforms[Side] => {
      const own = stances.filter((stance) => stance.side === side);
      const entries = LIVE_WAVEFORM_KEYS.map((key) => [
        key,
        summarise(own.flatMap((stance) => this.#curves.get(stance.id)?.[key] ?? [])),
      ]);
      return Object.fromEntries(entries) as LiveWaveforms[Side];
    };
    const [left, right] = SIDES.map(ofSide);
    return { left: left!, right: right! };
  }

  /** The same, when it is not what was told last; else null. */
  news(stances: readonly Stance[]): LiveWaveforms | null {
    if (!this.#changed) return null;
    this.#changed = false;
    const summary = this.summary(stances);
    const text = JSON.stringify(summary);
    if (text === this.#told) return null;
    this.#told = text;
    return summary;
  }

  /** What was told last stays on screen until something new comes. */
  standAsTold(): void {
    this.#changed = false;
  }
}
