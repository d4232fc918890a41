/** What the server says of two sessions, sentence by sentence. Nothing is concluded here. */
import type { MetricInfo, SessionComparison, SessionDifference } from '@ambipede/shared';
import { signed, whenText, withUnit } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

export function comparisonWords(compared: SessionComparison, metric: MetricInfo): string[] {
  const words = TEXTS.comparison;
  const { change, ci95 } = compared;
  const shown = Number(change.toFixed(metric.decimals));
  const towards = words.towards[shown > 0 ? 'left' : shown < 0 ? 'right' : 'equal'];
  return [
    sessionText(words.from, compared.from, metric),
    sessionText(words.to, compared.to, metric),
    words.change(signed(change, metric), towards, signed(ci95[0], metric), signed(ci95[1], metric)),
    ...(compared.tooFewStances ? [words.tooFew] : conclusions(compared, metric)),
    words.version(compared.version),
  ];
}

function sessionText(which: string, session: SessionDifference, metric: MetricInfo): string {
  const { utcMs, difference, ci95, n } = session;
  const [low, high] = [signed(ci95[0], metric), signed(ci95[1], metric)];
  const counted = TEXTS.months.n(n.left, n.right);
  return TEXTS.comparison.of(which, whenText(utcMs), signed(difference, metric), low, high, counted);
}

function conclusions(compared: SessionComparison, metric: MetricInfo): string[] {
  const words = TEXTS.comparison;
  const { excludesZero, beyondDetectable, couldBePlacement, detectableChange: known } = compared;
  const said: string[] = [];
  if (excludesZero !== null) said.push(excludesZero ? words.scatter.yes : words.scatter.no);
  if (beyondDetectable === null || known.change === null) said.push(words.beyond.unknown);
  else {
    const change = withUnit(known.change, metric);
    said.push(beyondDetectable ? words.beyond.yes(change) : words.beyond.no(change));
    if (known.basis === 'published default') said.push(words.beyond.published(known.source));
  }
  if (couldBePlacement !== null) {
    const within = withUnit(compared.placementUncertainty, metric);
    said.push(couldBePlacement ? words.seat.yes(within) : words.seat.no(within));
  } else if (metric.zero === 'offset-sensitive') said.push(words.seat.unknown);
  return said;
}
