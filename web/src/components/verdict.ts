/** The server's conclusion in words. Nothing is concluded here. */
import type { MetricAsymmetry, MetricInfo } from '@ambipede/shared';
import { signed, withUnit } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

export function verdictText(result: MetricAsymmetry): string {
  if (result.verdict !== 'too few stances') return TEXTS.pair.verdict[result.verdict];
  return TEXTS.pair.tooFew(result.missingStances.left, result.missingStances.right);
}

export function intervalText(result: MetricAsymmetry, metric: MetricInfo): string {
  if (result.ci95 === null) return TEXTS.pair.noInterval;
  return TEXTS.pair.interval(signed(result.ci95[0], metric), signed(result.ci95[1], metric));
}

/** Which side has more, by the sign of left minus right as far as its shown digits tell. */
export function moreText(exact: number | null, metric: MetricInfo): string {
  if (exact === null) return '';
  const difference = Number(exact.toFixed(metric.decimals));
  return TEXTS.pair.more[difference > 0 ? 'left' : difference < 0 ? 'right' : 'equal'];
}

export function placementText(result: MetricAsymmetry | undefined, metric: MetricInfo): string {
  if (result?.verdict === 'not measured') return '';
  const by = result?.placementUncertainty;
  if (metric.zero !== 'offset-sensitive') return by === undefined ? '' : TEXTS.pair.sensorBy(withUnit(by, metric));
  return by === undefined ? TEXTS.pair.placement : TEXTS.pair.placementBy(withUnit(by, metric));
}
