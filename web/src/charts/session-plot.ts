/** Where a session stands in the plot: across, the difference about the plumb line; down, the time, newest on top. */
import { differencePercent } from '../components/scale.ts';

const DAY_MS = 86_400_000;
/** One session alone still gets an axis. */
const SPAN_MS_MIN = 14 * DAY_MS;
/** An annotation this far from the sessions, or half their span, would squeeze them: it is in the list alone. */
const AROUND_MS_MIN = 60 * DAY_MS;

export const PLOT = { left: 80, right: 36, pad: 18, bottom: 44, rowPx: 44, heightMin: 280, heightMax: 960 } as const;

/** All in the metric's unit, as the server says. */
export interface PlotSession {
  id: string;
  utcMs: number;
  difference: number;
  ci95: [number, number];
  /** Half-width of what the sensors' seat of that day can make; null when not known. */
  seat: number | null;
  hollow: boolean;
  hatched: boolean;
}

export interface PlotNote {
  id: string;
  utcMs: number;
  /** As in the list. */
  number: number;
  strong: boolean;
}

export interface SessionPlot {
  reach: number;
  width: number;
  height: number;
  fromUtcMs: number;
  toUtcMs: number;
  x: (difference: number) => number;
  y: (utcMs: number) => number;
}

interface Axis {
  fromUtcMs: number;
  toUtcMs: number;
}

/** @param sessionsUtcMs at least one, in any order */
export function timeAxis(sessionsUtcMs: readonly number[], annotationsUtcMs: readonly number[]): Axis {
  const first = Math.min(...sessionsUtcMs);
  const last = Math.max(...sessionsUtcMs);
  const around = Math.max(AROUND_MS_MIN, (last - first) / 2);
  const near = annotationsUtcMs.filter((at) => at >= first - around && at <= last + around);
  const from = Math.min(first, ...near);
  const to = Math.max(last, ...near);
  const missing = Math.max(0, SPAN_MS_MIN - (to - from)) / 2;
  return { fromUtcMs: from - missing, toUtcMs: to + missing };
}

export function isOnAxis(utcMs: number, { fromUtcMs, toUtcMs }: Axis): boolean {
  return utcMs >= fromUtcMs && utcMs <= toUtcMs;
}

/** @param reach half-width of the scale in the metric's unit */
export function sessionPlot(axis: Axis, width: number, rows: number, reach: number): SessionPlot {
  const height = Math.min(PLOT.heightMax, Math.max(PLOT.heightMin, rows * PLOT.rowPx)) + 2 * PLOT.pad + PLOT.bottom;
  const across = Math.max(1, width - PLOT.left - PLOT.right);
  const down = height - 2 * PLOT.pad - PLOT.bottom;
  const span = axis.toUtcMs - axis.fromUtcMs;
  return {
    ...axis,
    reach,
    width,
    height,
    x: (difference) => PLOT.left + (differencePercent(difference, reach) / 100) * across,
    y: (utcMs) => PLOT.pad + ((axis.toUtcMs - utcMs) / span) * down,
  };
}

/** The one whose mark lies nearest to a point of the plot. Across counts less: a tap on an interval's end means its session. */
export function nearestOf<T extends { utcMs: number; difference: number }>(
  sessions: readonly T[],
  plot: SessionPlot,
  x: number,
  y: number,
): T | undefined {
  const away = (each: T) => Math.hypot((plot.x(each.difference) - x) / 4, plot.y(each.utcMs) - y);
  return sessions.reduce<T | undefined>(
    (best, each) => (best === undefined || away(each) < away(best) ? each : best),
    undefined,
  );
}
