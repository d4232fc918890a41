/**
 * Cuts the times of a recording into runs of evenly spaced samples, because a stored batch has a time for its first sample and
 * for the one after its last. Real times are respected: a run ends where the next sample is not where it should be.
 */

export interface EvenRun {
  /** Index of its first sample. */
  from: number;
  count: number;
  firstUtcMs: number;
  endUtcMs: number;
}

export const EVEN_RUNS = {
  /** As many as a frame of the protocol carries. */
  samplesMax: 200,
  /** Tried one after the other, ms: to the last bit; the jitter of a sensor; time stamps rounded to whole milliseconds. */
  tolerancesMs: [0, 0.05, 0.5],
  /** The first tolerance is taken with which runs are this long on average: a row of the store per sample would be a waste. */
  meanSamplesMin: 8,
  /** Beyond this many intervals something is missing in between. */
  gapIntervals: 1.5,
} as const;

/** @param utcMs rising */
export function evenRuns(utcMs: Float64Array, intervalMs: number): { runs: EvenRun[]; toleranceMs: number } {
  let runs: EvenRun[] = [];
  let toleranceMs = 0;
  for (toleranceMs of EVEN_RUNS.tolerancesMs) {
    runs = runsWithin(utcMs, intervalMs, toleranceMs);
    if (utcMs.length >= runs.length * EVEN_RUNS.meanSamplesMin) break;
  }
  return { runs, toleranceMs };
}

function runsWithin(utcMs: Float64Array, intervalMs: number, toleranceMs: number): EvenRun[] {
  const runs: EvenRun[] = [];
  for (let from = 0; from < utcMs.length; from += runs.at(-1)!.count)
    runs.push(longestRun(utcMs, from, intervalMs, toleranceMs));
  return runs;
}

function longestRun(utcMs: Float64Array, from: number, intervalMs: number, toleranceMs: number): EvenRun {
  const firstUtcMs = utcMs[from]!;
  const grainMs = grainOf(firstUtcMs);
  const reachMs = Math.max(toleranceMs, grainMs / 2);
  /** Steps with which all samples so far are where they should be, by the count of samples. */
  const steps: [least: number, most: number][] = [[0, Infinity]];
  while (steps.length < EVEN_RUNS.samplesMax && from + steps.length < utcMs.length) {
    const i = steps.length;
    if (utcMs[from + i]! - utcMs[from + i - 1]! > EVEN_RUNS.gapIntervals * intervalMs) break;
    const elapsedMs = utcMs[from + i]! - firstUtcMs;
    const [least, most] = steps[i - 1]!;
    const next: [number, number] = [
      Math.max(least, (elapsedMs - reachMs) / i),
      Math.min(most, (elapsedMs + reachMs) / i),
    ];
    if (next[0] > next[1]) break;
    steps.push(next);
  }
  for (let count = steps.length; count > 1; count -= 1) {
    const [least, most] = steps[count - 1]!;
    const centre = firstUtcMs + ((least + most) / 2) * count;
    // The end is a double too: its neighbours may be the one that fits.
    for (const endUtcMs of [centre, centre + grainMs, centre - grainMs])
      if (fits(utcMs, { from, count, firstUtcMs, endUtcMs }, toleranceMs)) return { from, count, firstUtcMs, endUtcMs };
  }
  return { from, count: 1, firstUtcMs, endUtcMs: firstUtcMs + intervalMs };
}

/** Reckons as `ingest/raw-samples.ts` does when the batch is read. */
function fits(utcMs: Float64Array, { from, count, firstUtcMs, endUtcMs }: EvenRun, toleranceMs: number): boolean {
  const stepMs = (endUtcMs - firstUtcMs) / count;
  for (let i = 1; i < count; i += 1)
    if (Math.abs(firstUtcMs + i * stepMs - utcMs[from + i]!) > toleranceMs) return false;
  return true;
}

/** Distance of a double to the next: 0.00024 ms for times of this century. */
function grainOf(value: number): number {
  return 2 ** (Math.floor(Math.log2(Math.max(1, Math.abs(value)))) - 52);
}
