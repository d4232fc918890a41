/** Numbers and times as they stand on screen. Rounding only; nothing is derived here. */
import type { MetricInfo } from '@ambipede/shared';
import { TEXTS } from './texts.ts';

const UNIT_TEXT: Record<MetricInfo['unit'], string> = {
  s: '\u00a0s',
  deg: '°',
  '1': '',
  m: '\u00a0m',
  g: '\u00a0g',
  'deg/s': '°/s',
  dB: '\u00a0dB',
  N: '\u00a0N',
  'N/m': '\u00a0N/m',
};

/** With a real minus sign, and never a negative zero. */
export function fixed(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

export function plain(value: number | null, metric: MetricInfo): string {
  return value === null ? TEXTS.dash : fixed(value, metric.decimals);
}

export function unitText(metric: MetricInfo): string {
  return UNIT_TEXT[metric.unit];
}

export function withUnit(value: number | null, metric: MetricInfo): string {
  return value === null ? TEXTS.dash : fixed(value, metric.decimals) + UNIT_TEXT[metric.unit];
}

/** Differences carry their sign: left minus right. */
export function signed(value: number | null, metric: MetricInfo): string {
  if (value === null) return TEXTS.dash;
  const text = withUnit(value, metric);
  return value > 0 && Number(value.toFixed(metric.decimals)) !== 0 ? `+${text}` : text;
}

/** How long ago, in the unit that a person would use. */
export function ageText(seconds: number): string {
  if (seconds < 90) return `${fixed(seconds, seconds < 10 ? 1 : 0)} s`;
  if (seconds < 90 * 60) return `${Math.round(seconds / 60)} min`;
  if (seconds < 36 * 3600) return `${Math.round(seconds / 3600)} h`;
  return `${Math.round(seconds / 86400)} days`;
}

/** `4:05` from seconds. */
export function clockText(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

const WHEN = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short' });

export function whenText(utcMs: number): string {
  return WHEN.format(utcMs);
}
