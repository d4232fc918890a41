/**
 * The sides of a sequence of steps: a hidden Markov model with two states. Steps alternate; where the time between two
 * contacts does not fit the steps around it, something was missed or added and both sides are equally likely again.
 * Forward-backward (Rabiner 1989, Proc IEEE 77:257-286) gives each step's posterior.
 */

export const SEQUENCE = {
  /** Two contacts of one foot in a row, although the time between them fits one step. */
  repeatProbability: 0.003,
  /** Times between contacts, as shares of the steps before, that fit one step. */
  fitsFrom: 0.6,
  fitsTo: 1.55,
  /** Without steps before: seconds. */
  stepS: { min: 0.2, max: 1.3 },
  /** Steps before that make the usual step time; even, as a limp alternates. */
  usualOver: 4,
  /** No single step decides by itself: largest log likelihood ratio. */
  evidenceMax: 6,
} as const;

/** For each step whether it continues the alternation from the one before; the first never does. */
export function continuity(timesS: readonly number[]): boolean[] {
  const continues: boolean[] = [];
  // Where the alternation under way began.
  let start = 0;
  for (let i = 0; i < timesS.length; i += 1) {
    const fits = i > 0 && fitsOneStep(timesS, start, i);
    if (!fits) start = i;
    continues.push(fits);
  }
  return continues;
}

/** Whether step `i` comes one step time after the one before, by the steps since `start`. */
function fitsOneStep(timesS: readonly number[], start: number, i: number): boolean {
  const last = timesS[i - 1]!;
  const interval = timesS[i]! - last;
  if (interval < SEQUENCE.stepS.min || interval > SEQUENCE.stepS.max) return false;
  const over = Math.min(SEQUENCE.usualOver, i - 1 - start);
  if (over < 2) return true;
  const usual = (last - timesS[i - 1 - over]!) / over;
  return interval > SEQUENCE.fitsFrom * usual && interval < SEQUENCE.fitsTo * usual;
}

/**
 * @param evidence log likelihood ratio of right over left per step
 * @param continues see `continuity`
 * @param priorRight probability that the first step is a right one
 * @returns posterior probability of right per step, and the forward part of the same
 */
export function posteriorOfRight(
  evidence: readonly number[],
  continues: readonly boolean[],
  priorRight: number,
): { right: number[]; forward: number[] } {
  const n = evidence.length;
  const ratio = evidence.map((llr) => Math.exp(Math.min(SEQUENCE.evidenceMax, Math.max(-SEQUENCE.evidenceMax, llr))));
  const repeat = continues.map((fits) => (fits ? SEQUENCE.repeatProbability : 0.5));
  const forward = new Array<number>(n);
  let p = priorRight;
  for (let i = 0; i < n; i += 1) {
    if (i > 0) p = repeat[i]! * p + (1 - repeat[i]!) * (1 - p);
    p = (p * ratio[i]!) / (p * ratio[i]! + 1 - p);
    forward[i] = p;
  }
  const right = new Array<number>(n);
  // Likelihood of all later evidence, given right and left now.
  let ifRight = 1;
  let ifLeft = 1;
  for (let i = n - 1; i >= 0; i -= 1) {
    const joint = forward[i]! * ifRight;
    right[i] = joint / (joint + (1 - forward[i]!) * ifLeft);
    const stay = repeat[i]!;
    const nextRight = ratio[i]! * ifRight;
    const before = [stay * nextRight + (1 - stay) * ifLeft, (1 - stay) * nextRight + stay * ifLeft] as const;
    const sum = before[0] + before[1];
    ifRight = before[0] / sum;
    ifLeft = before[1] / sum;
  }
  return { right, forward };
}
