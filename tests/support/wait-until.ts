import { setTimeout as sleep } from 'node:timers/promises';

const POLL_MS = 20;

/** Resolves with the first answer that is neither false nor null; rejects when the limit is over. */
export async function waitUntil<T>(
  what: string,
  check: () => Promise<T | null | false> | T | null | false,
  limitMs = 20_000,
): Promise<T> {
  const deadline = Date.now() + limitMs;
  while (Date.now() < deadline) {
    const answer = await check();
    if (answer !== null && answer !== false) return answer;
    await sleep(POLL_MS);
  }
  throw new Error(`waited ${limitMs} ms in vain until ${what}`);
}
