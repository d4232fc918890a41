/** What the server concludes over sessions, in words. Units are scaled for reading; nothing is concluded here. */
import type { MetricInfo, SessionDifference, SessionHistory } from '@ambipede/shared';
import { fixed, signed, withUnit } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

/** A slope a day has too many zeros to be read. */
const SLOPE_DAYS = 30;

/** Trials of one session that two versions analysed are two entries. */
export function keyOf({ sessionId, version }: SessionDifference): string {
  return `${sessionId} ${version}`;
}

export type Counts = 'yes' | 'version' | 'few' | 'both';

/** Whether the server took the session into baseline and trend, by the marks that it gave it. */
export function countsOf(session: SessionDifference, { versions }: Pick<SessionHistory, 'versions'>): Counts {
  const isOther = versions.some(({ version, used }) => version === session.version && !used);
  if (isOther) return session.tooFewStances ? 'both' : 'version';
  return session.tooFewStances ? 'few' : 'yes';
}

export function baselineText({ baseline }: SessionHistory, metric: MetricInfo): string {
  const words = TEXTS.conclusions;
  const basis = words.basis[baseline.basis];
  const { mean, band, sessions, missingSessions } = baseline;
  if (mean === null || band === null) return words.baselineMissing(sessions, missingSessions, basis);
  return words.baselineIs(signed(mean, metric), signed(band[0], metric), signed(band[1], metric), sessions, basis);
}

export function changeText({ detectableChange: found }: SessionHistory, metric: MetricInfo): string {
  const words = TEXTS.conclusions;
  if (found.basis === 'none') return words.changeNone(found.missingSessions);
  const change = withUnit(found.change, metric);
  if (found.basis === 'own sessions') return words.changeOwn(change, found.sessions);
  return words.changePublished(change, found.source, found.missingSessions);
}

export function trendText({ trend }: SessionHistory, metric: MetricInfo): string {
  const words = TEXTS.conclusions;
  if (trend.state === 'too few sessions') return words.trendMissing(trend.sessions, trend.missingSessions);
  // Slopes are small beside the values: one digit more.
  const finer = { ...metric, decimals: metric.decimals + 1 };
  const [slope, low, high] = [trend.slopePerDay, ...trend.ci95].map((perDay) => signed(perDay * SLOPE_DAYS, finer));
  const percent = fixed(100 * trend.coverage, 1);
  return words.trendIs(words.trendWords[trend.state], slope!, percent, low!, high!, trend.sessions);
}
