/**
 * Problems as lines of the log, never more than so many a minute: anybody who reaches the socket can make some. Each sensor has
 * its own share, so that one of them cannot drown what happens to the others; and so has each kind of problem that is of no
 * sensor, so that strangers cannot drown what the server says of its own store.
 */

export const PROBLEM_LINES_PER_MINUTE = 30;
/** Sensors beyond this many within a minute share one share: ids can be made up. */
export const PROBLEM_SOURCES_MAX = 100;
const MINUTE_MS = 60_000;
/** No device id has a blank. */
const ALL_OTHERS = 'all others';
const KIND = 'kind ';

type WriteProblem = (problem: string, deviceId?: string) => void;

/** @param write one line, which begins with its kind and a colon; @param nowMs of any steady clock */
export function limitedProblems(write: WriteProblem, nowMs: () => number): WriteProblem {
  const written = new Map<string, number>();
  const devices = new Set<string>();
  let minuteBeganMs = -Infinity;
  let leftOut = 0;
  const shareOf = (deviceId: string): string => {
    if (devices.size < PROBLEM_SOURCES_MAX) devices.add(deviceId);
    return devices.has(deviceId) ? deviceId : ALL_OTHERS;
  };
  return (problem, deviceId) => {
    if (nowMs() - minuteBeganMs >= MINUTE_MS) {
      if (leftOut > 0) write(`${leftOut} more problems were not written down; /metrics counts them by kind.`);
      minuteBeganMs = nowMs();
      written.clear();
      devices.clear();
      leftOut = 0;
    }
    const source = deviceId === undefined ? KIND + problem.split(':')[0] : shareOf(deviceId);
    const count = (written.get(source) ?? 0) + 1;
    written.set(source, count);
    if (count <= PROBLEM_LINES_PER_MINUTE) write(problem, deviceId);
    else leftOut += 1;
  };
}
