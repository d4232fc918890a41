/** What the server's report says of how a sensor sits, as a verdict: good, to be repeated, weak, or not known. */
import type { MountingReport } from '@ambipede/shared';
import { fixed } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

export type SeatVerdict = 'good' | 'repeat' | 'weak' | 'none';

/** The remarks are the server's own judgement: a lead-in without any is good. */
export function seatVerdict(report: MountingReport | undefined): SeatVerdict {
  if (report === undefined || report.source === 'none') return 'none';
  if (report.source !== 'lead-in') return 'weak';
  return report.remarks.length === 0 ? 'good' : 'repeat';
}

type QualityKey = keyof typeof TEXTS.seat.quality;

const SHOWN: readonly (readonly [QualityKey, (value: number) => string])[] = [
  ['stillS', (value) => TEXTS.seat.value.s(fixed(value, 1))],
  ['bowDepthDeg', (value) => TEXTS.seat.value.deg(fixed(value, 0))],
  ['bowAxisShare', (value) => TEXTS.seat.value.share(fixed(value * 100, 0))],
  ['bowAxisOffHorizontalDeg', (value) => TEXTS.seat.value.deg(fixed(value, 1))],
  ['bowRepeatabilityDeg', (value) => TEXTS.seat.value.deg(fixed(value, 1))],
];

/** The report's quality numbers in words; what it does not hold is left out. */
export function seatQuality(report: MountingReport): { label: string; value: string }[] {
  const uncertainty = report.frontalUncertaintyDeg;
  const lines = SHOWN.flatMap(([key, words]) => {
    const value = report.details[key];
    return value === undefined ? [] : [{ label: TEXTS.seat.quality[key], value: words(value) }];
  });
  if (uncertainty === null) return lines;
  return [{ label: TEXTS.seat.uncertainty, value: `±${TEXTS.seat.value.deg(fixed(uncertainty, 1))}` }, ...lines];
}
