/** Problems as lines of the log, never more than so many a minute: anybody who reaches the socket can make some. */

export const PROBLEM_LINES_PER_MINUTE = 120;
const MINUTE_MS = 60_000;

/** @param write one line; @param nowMs of any steady clock */
export function limitedProblems(
  write: (problem: string, deviceId?: string) => void,
  nowMs: () => number,
): (problem: string, deviceId?: string) => void {
  let minuteBeganMs = -Infinity;
  let written = 0;
  let leftOut = 0;
  return (problem, deviceId) => {
    if (nowMs() - minuteBeganMs >= MINUTE_MS) {
      if (leftOut > 0) write(`${leftOut} more problems were not written down; /metrics counts them by kind.`);
      minuteBeganMs = nowMs();
      written = 0;
      leftOut = 0;
    }
    if (written < PROBLEM_LINES_PER_MINUTE) {
      written += 1;
      write(problem, deviceId);
    } else {
      leftOut += 1;
    }
  };
}
