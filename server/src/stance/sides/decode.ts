/**
 * The sides of a sequence of steps: a hidden Markov model with two states, whose chances to change depend on how each
 * step follows on the one before (links.ts). Forward-backward (Rabiner 1989, Proc IEEE 77:257-286) gives the posteriors.
 */

/** No single step decides by itself: largest log likelihood ratio. */
export const EVIDENCE_MAX = 6;

/**
 * @param evidence log likelihood ratio of right over left per step
 * @param repeat probability that the step is of the same foot as the one before; the first is not looked at
 * @param priorRight probability that the first step is a right one
 * @returns posterior probability of right per step, and the forward part of the same
 */
export function posteriorOfRight(
  evidence: readonly number[],
  repeat: readonly number[],
  priorRight: number,
): { right: number[]; forward: number[] } {
  const n = evidence.length;
  const ratio = evidence.map((llr) => Math.exp(Math.min(EVIDENCE_MAX, Math.max(-EVIDENCE_MAX, llr))));
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
    const beforeRight = stay * nextRight + (1 - stay) * ifLeft;
    const beforeLeft = (1 - stay) * nextRight + stay * ifLeft;
    ifRight = beforeRight / (beforeRight + beforeLeft);
    ifLeft = beforeLeft / (beforeRight + beforeLeft);
  }
  return { right, forward };
}
