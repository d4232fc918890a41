/** How a crystal's rate wanders with its temperature: slowly, and the same for the same seed. */
import { makeRandom } from './random.ts';

/** Warming up on the body, going in and out of doors: waves of minutes. */
const PERIODS_S = [140, 420, 1260] as const;
/** Shares of the whole amplitude: the slower, the larger. */
const SHARES = [0.15, 0.3, 0.55] as const;

export interface Drift {
  /** Rate error at a true time since the start, in ppm; never beyond the amplitude. */
  ppmAt(trueS: number): number;
  /** Device time gained since the start, in microseconds: the integral of the rate error. */
  gainedUs(trueS: number): number;
}

/** `amplitudePpm`: the largest rate error. 0 makes a crystal that does not drift. */
export function makeDrift(amplitudePpm: number, seed: number): Drift {
  const random = makeRandom(seed);
  const waves = PERIODS_S.map((periodS, i) => ({
    ppm: amplitudePpm * (SHARES[i] as number),
    radPerS: (2 * Math.PI) / periodS,
    phase: 2 * Math.PI * random(),
  }));
  const sum = (of: (wave: (typeof waves)[number]) => number): number => waves.reduce((all, wave) => all + of(wave), 0);
  return {
    ppmAt: (trueS) => sum(({ ppm, radPerS, phase }) => ppm * Math.sin(radPerS * trueS + phase)),
    gainedUs: (trueS) =>
      sum(({ ppm, radPerS, phase }) => (ppm / radPerS) * (Math.cos(phase) - Math.cos(radPerS * trueS + phase))),
  };
}
