/**
 * What the service worker answers from its store: the page itself and the files it is made of, and nothing else. What the
 * server says of athletes never gets there, so a page from the store has no data that could look live.
 */
export type Answer =
  /** From the network while it answers; else the stored page. */
  | 'page'
  /** From the store: the name changes with the content, or the whole store does. */
  | 'stored file'
  /** Not touched. */
  | 'network';

export const PAGE = '/';

export interface Asked {
  method: string;
  /** `navigate`: a page is opened. */
  mode: string;
  url: string;
}

/** `shell`: paths that are stored. */
export function answerTo({ method, mode, url }: Asked, origin: string, shell: readonly string[]): Answer {
  const asked = new URL(url);
  if (method !== 'GET' || asked.origin !== origin || !shell.includes(asked.pathname)) return 'network';
  if (asked.pathname === PAGE) return mode === 'navigate' ? 'page' : 'network';
  return asked.search === '' ? 'stored file' : 'network';
}
