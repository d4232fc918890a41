/** Made-up athletes for checks of coverage: values whose truth is known. All from seeds. */
import { seededRandom } from '../support/seeded-random.ts';

export type Shape = 'normal' | 'skewed' | 'very skewed';

export type Draw = () => number;

/** Mean 0, SD 1. Skewness 1 (gamma, shape 4) and 2 (exponential) for the skewed ones. */
export function drawOf(seed: number, shape: Shape = 'normal'): Draw {
  const random = seededRandom(seed);
  const exponential = (): number => -Math.log(1 - random());
  if (shape === 'very skewed') return () => exponential() - 1;
  if (shape === 'skewed') return () => (exponential() + exponential() + exponential() + exponential() - 4) / 2;
  return () => Math.sqrt(2 * exponential()) * Math.cos(2 * Math.PI * random());
}

/** Enough for the start to be forgotten at a correlation of 0.6. */
const WARM_UP = 40;

/** First-order autoregression, mean 0, SD 1, correlation `phi` of neighbours. */
export function serialValues(draw: Draw, n: number, phi: number): number[] {
  const values: number[] = [];
  let value = draw();
  for (let i = -WARM_UP; i < n; i += 1) {
    value = phi * value + Math.sqrt(1 - phi * phi) * draw();
    if (i >= 0) values.push(value);
  }
  return values;
}

/** Share of `times` in which `event` came true. */
export function shareOf(times: number, event: () => boolean): number {
  let hits = 0;
  for (let i = 0; i < times; i += 1) if (event()) hits += 1;
  return hits / times;
}

/** Four standard errors of a share of `times` about `expected`: a right method passes all but one in 16,000 seeds. */
export function chanceOf(expected: number, times: number): number {
  return 4 * Math.sqrt((expected * (1 - expected)) / times);
}
