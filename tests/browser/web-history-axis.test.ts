/** The time axis under the sessions, without a page. Times are those of this machine's zone, as on the axis. */
import { describe, expect, test } from 'vitest';
import { nearestOf, sessionPlot, timeAxis } from '../../web/src/charts/session-plot.ts';
import { timeTicks } from '../../web/src/charts/time-ticks.ts';

const DAY_MS = 86_400_000;

describe('the time axis', () => {
  test('is marked at whole months that leave room, at days for weeks, and at years for decades', () => {
    const labels = (from: Date, to: Date, most: number) =>
      timeTicks(from.getTime(), to.getTime(), most).map(({ label }) => label);
    expect(labels(new Date(2026, 0, 20), new Date(2026, 4, 2), 6)).toEqual([
      'Feb 2026',
      'Mar 2026',
      'Apr 2026',
      'May 2026',
    ]);
    expect(labels(new Date(2025, 10, 2), new Date(2026, 10, 2), 5)).toEqual([
      'Jan 2026',
      'Apr 2026',
      'Jul 2026',
      'Oct 2026',
    ]);
    expect(labels(new Date(2026, 1, 26, 12), new Date(2026, 2, 2), 6)).toEqual(['27 Feb', '28 Feb', '1 Mar', '2 Mar']);
    expect(labels(new Date(1999, 5, 1), new Date(2011, 5, 1), 3)).toEqual(['2000', '2005', '2010']);
  });

  test('holds an entry near the sessions, and is not squeezed by one of long ago', () => {
    const sessions = [0, 100 * DAY_MS];
    expect(timeAxis(sessions, [-50 * DAY_MS])).toEqual({ fromUtcMs: -50 * DAY_MS, toUtcMs: 100 * DAY_MS });
    expect(timeAxis(sessions, [-3000 * DAY_MS])).toEqual({ fromUtcMs: 0, toUtcMs: 100 * DAY_MS });
    const alone = timeAxis([DAY_MS], []);
    expect(alone.fromUtcMs).toBeLessThan(DAY_MS);
    expect(alone.toUtcMs).toBeGreaterThan(DAY_MS);
  });

  test('newest is on top and nothing leaves the plot; a tap finds the mark that lies nearest', () => {
    const sessions = [0, 10, 40].map((day) => ({ utcMs: day * DAY_MS, difference: day - 20 }));
    const axis = timeAxis(
      sessions.map(({ utcMs }) => utcMs),
      [],
    );
    const plot = sessionPlot(axis, 600, sessions.length, 20);
    const [first, second, last] = sessions.map(({ utcMs }) => plot.y(utcMs)) as [number, number, number];
    expect(last).toBeLessThan(second);
    expect(second).toBeLessThan(first);
    expect(last).toBeGreaterThan(0);
    expect(first).toBeLessThan(plot.height);
    expect(plot.x(1000)).toBe(plot.x(20));
    for (const session of sessions)
      expect(nearestOf(sessions, plot, plot.x(session.difference) + 9, plot.y(session.utcMs) - 9)).toBe(session);
    expect(nearestOf([], plot, 1, 1)).toBeUndefined();
  });
});
