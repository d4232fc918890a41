/** Where a time axis of days to years is marked: whole local days, months or years, whichever leave room for their words. */

const DAY_MS = 86_400_000;
const MONTH_DAYS = 30;
const YEAR_DAYS = 365;

interface Step {
  days: number;
  months: number;
}
const inDays = (days: number): Step => ({ days, months: 0 });
const inMonths = (months: number): Step => ({ days: 0, months });
const STEPS: readonly Step[] = [
  ...[1, 2, 7, 14].map(inDays),
  ...[1, 3, 6].map(inMonths),
  ...[1, 2, 5, 10, 20, 50].map((years) => inMonths(12 * years)),
];

export interface TimeTick {
  utcMs: number;
  label: string;
}

const DAY = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short' });
const MONTH = new Intl.DateTimeFormat('en-GB', { month: 'short', year: 'numeric' });
const YEAR = new Intl.DateTimeFormat('en-GB', { year: 'numeric' });

/** Oldest first; about `most` of them or fewer. */
export function timeTicks(fromUtcMs: number, toUtcMs: number, most: number): TimeTick[] {
  const days = (toUtcMs - fromUtcMs) / DAY_MS;
  const step = STEPS.find((each) => days / roughDays(each) <= most) ?? STEPS[STEPS.length - 1]!;
  const words = step.days > 0 ? DAY : step.months < 12 ? MONTH : YEAR;
  const ticks: TimeTick[] = [];
  for (let at = firstOf(fromUtcMs, step); at.getTime() <= toUtcMs; at = next(at, step)) {
    if (at.getTime() >= fromUtcMs) ticks.push({ utcMs: at.getTime(), label: words.format(at) });
  }
  return ticks;
}

function roughDays({ days, months }: Step): number {
  return days > 0 ? days : months < 12 ? months * MONTH_DAYS : (months / 12) * YEAR_DAYS;
}

/** At or before `fromUtcMs`; months and years start where a calendar has them. */
function firstOf(fromUtcMs: number, { days, months }: Step): Date {
  const from = new Date(fromUtcMs);
  if (days > 0) return new Date(from.getFullYear(), from.getMonth(), from.getDate());
  const whole = from.getFullYear() * 12 + from.getMonth();
  return new Date(0, whole - (whole % months) - 1900 * 12, 1);
}

function next(at: Date, { days, months }: Step): Date {
  return new Date(at.getFullYear(), at.getMonth() + months, at.getDate() + days);
}
