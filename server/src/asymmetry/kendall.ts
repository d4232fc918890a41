/** Kendall's rank statistic without ties: how often a number of discordant pairs comes by chance. */

/** Past this many values the normal approximation is as good. */
export const EXACT_VALUES_MAX = 60;

/**
 * Shares of the n! orders that have 0, 1, 2, ... discordant pairs. Built by putting in one value after another: the i-th
 * makes 0 to i - 1 new discordant pairs, all equally often (Kendall 1938, Biometrika 30:81-93, from memory).
 */
export function discordantPairShares(n: number): number[] {
  let shares = [1];
  for (let i = 2; i <= n; i += 1) {
    const next = new Array<number>(shares.length + i - 1).fill(0);
    shares.forEach((share, pairs) => {
      for (let more = 0; more < i; more += 1) next[pairs + more]! += share / i;
    });
    shares = next;
  }
  return shares;
}
