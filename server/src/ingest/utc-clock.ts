/** The server's time in ms UTC with microseconds of resolution, for stamping and for time exchanges. */

/** Beyond this the computer's clock was set, or the computer slept: follow it. */
const RESYNC_MS = 20;

/** Runs evenly between settings of the computer's clock, and follows those. */
export function makeUtcClock(): () => number {
  let baseUtcMs = Date.now();
  let baseMonotonicMs = performance.now();
  return () => {
    const utcMs = baseUtcMs + (performance.now() - baseMonotonicMs);
    const wallUtcMs = Date.now();
    if (Math.abs(wallUtcMs - utcMs) < RESYNC_MS) return utcMs;
    baseUtcMs = wallUtcMs;
    baseMonotonicMs = performance.now();
    return wallUtcMs;
  };
}
