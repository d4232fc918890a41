/** Frames of pelvis and thorax written down as functions of time: what is not given is 0. */
import { startStanceFrames, type StanceFrames } from '../../server/src/stance/stance-frames.ts';

export type Column = Exclude<keyof StanceFrames, 'breaks' | 'headingBreaks' | 't'>;

export const RATE_HZ = 200;

export function framesOf(
  seconds: number,
  columns: Partial<Record<Column, (tS: number) => number>>,
  rateHz = RATE_HZ,
): StanceFrames {
  const { breaks, headingBreaks, ...empty } = startStanceFrames();
  const frames: StanceFrames = { ...empty, breaks, headingBreaks };
  for (let i = 0; i <= seconds * rateHz; i += 1) {
    const tS = i / rateHz;
    for (const name of Object.keys(empty) as (Column | 't')[]) {
      frames[name].push(name === 't' ? tS : (columns[name]?.(tS) ?? 0));
    }
  }
  return frames;
}

/** From 0 to 1 between two times, as half a cosine wave. */
export function ease(tS: number, startS: number, endS: number): number {
  const u = Math.min(1, Math.max(0, (tS - startS) / (endS - startS)));
  return (1 - Math.cos(Math.PI * u)) / 2;
}
