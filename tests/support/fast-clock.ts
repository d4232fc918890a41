import { hostNowMs } from '@ambipede/firmware-protocol/virtual-sensor';

/**
 * A server's clock that runs `speed` times as fast, for sensors whose `speed` is the same: a minute of movement in a few
 * seconds, through the same code.
 */
export function makeFastClock(speed: number): { nowUtcMs: () => number; hostMsOf: (utcMs: number) => number } {
  const baseMs = hostNowMs();
  return {
    nowUtcMs: () => baseMs + (hostNowMs() - baseMs) * speed,
    hostMsOf: (utcMs) => baseMs + (utcMs - baseMs) / speed,
  };
}
