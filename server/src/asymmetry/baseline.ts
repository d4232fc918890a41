/**
 * The athlete's baseline from sessions in which nothing was wrong, and how large a change must be to be more than the noise
 * from day to day. From the athlete's own sessions where there are enough, else a published default that is named as one.
 *
 * With few sessions the scatter itself is uncertain, so Student's t stands where Weir 2005 has 1.96 (that one is meant for
 * the SEM of a group; `tests/bench/coverage.ts` shows what it covers with three to ten sessions of one athlete).
 * Limits: takes the sessions as independent, normal and without a trend of their own.
 */
import type { StanceMetricKey } from '@ambipede/shared';
import { meanOf, sdOf } from './moments.ts';
import { studentTQuantile } from './quantiles.ts';
import { withChiSquareInterval, type Interval95 } from './reliability.ts';

/** Practice, no source: two sessions give a band twelve standard errors wide. */
export const BASELINE_SESSIONS_MIN = 3;

export interface Baseline {
  sessions: number;
  mean: number;
  /** SD between the sessions, with its interval: this athlete's typical error, day to day. */
  sd: Interval95;
  /** One further session without a change lies in here in 95 %: mean +- t sd sqrt(1 + 1/n). */
  band: [number, number];
}

/**
 * @param differences one per session, any one unit
 * @returns null with fewer than `BASELINE_SESSIONS_MIN`
 */
export function baselineOf(differences: readonly number[]): Baseline | null {
  const n = differences.length;
  if (n < BASELINE_SESSIONS_MIN) return null;
  const mean = meanOf(differences);
  const sd = sdOf(differences);
  const half = studentTQuantile(0.975, n - 1) * sd * Math.sqrt(1 + 1 / n);
  return { sessions: n, mean, sd: withChiSquareInterval(sd, n - 1), band: [mean - half, mean + half] };
}

/**
 * Published smallest detectable differences of one side's value between two sessions, in the metric's unit. Measured with
 * other devices and other people: a stand-in until the athlete has sessions of their own.
 */
export const PUBLISHED_CHANGE_OF_ONE_SIDE: Partial<Record<StanceMetricKey, { change: number; source: string }>> = {
  swingSideDropDeg: { change: 2.8, source: 'Dingenen et al. 2018, 21 runners, one week apart' },
  leanToStanceMeanDeg: { change: 2.3, source: 'Dingenen et al. 2018, 21 runners, one week apart' },
  leanToStancePeakDeg: { change: 2.3, source: 'Dingenen et al. 2018, 21 runners, one week apart' },
};

export type DetectableChange =
  | { basis: 'own sessions'; change: number; sessions: number }
  | { basis: 'published default'; change: number; source: string; missingSessions: number }
  | { basis: 'none'; change: null; missingSessions: number };

/**
 * The smallest change of the left-right difference between two sessions that is more than noise (95 %): t sqrt(2) sd of the
 * athlete's own sessions; else the published value of one side times sqrt(2), as if the errors of the sides were independent.
 *
 * @param differences left - right, one per session without a known change between them, in the metric's unit
 */
export function detectableChange(key: StanceMetricKey, differences: readonly number[]): DetectableChange {
  const n = differences.length;
  if (n >= BASELINE_SESSIONS_MIN) {
    const change = studentTQuantile(0.975, n - 1) * Math.SQRT2 * sdOf(differences);
    return { basis: 'own sessions', change, sessions: n };
  }
  const missingSessions = BASELINE_SESSIONS_MIN - n;
  const published = PUBLISHED_CHANGE_OF_ONE_SIDE[key];
  if (published === undefined) return { basis: 'none', change: null, missingSessions };
  const { change, source } = published;
  return { basis: 'published default', change: Math.SQRT2 * change, source, missingSessions };
}
