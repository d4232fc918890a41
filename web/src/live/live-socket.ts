/** The connection to the live feed: opens it, opens it again when it is lost, and hands every message on. */
import { LIVE_CLOSE, LIVE_CLOSE_OWN_MIN, STALE_AFTER_MS, type LiveMessage } from '@ambipede/shared';

export const RETRY_MS_MIN = 500;
export const RETRY_MS_MAX = 8000;
/** A socket that says nothing for this long is dropped and opened anew: half-open ones never close by themselves. */
export const GIVE_UP_AFTER_MS = 2 * STALE_AFTER_MS;

export interface LiveSocketEvents {
  onMessage: (message: LiveMessage) => void;
  /** The server closed the feed and said why. */
  onRefused: (reason: string, code: number) => void;
}

/** Trying again would not help. */
const FINAL_CODES: readonly number[] = [LIVE_CLOSE.noSuchAthlete, LIVE_CLOSE.notSignedIn, LIVE_CLOSE.notAllowed];

export interface LiveSocket {
  close: () => void;
}

export function openLiveSocket(athleteId: string, events: LiveSocketEvents): LiveSocket {
  let socket: WebSocket | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let heardAtMs = 0;
  let retryMs = RETRY_MS_MIN;
  let closed = false;

  function connect(): void {
    clearTimeout(timer);
    const address = new URL(`/live?athlete=${encodeURIComponent(athleteId)}`, location.href);
    address.protocol = address.protocol === 'https:' ? 'wss:' : 'ws:';
    const current = new WebSocket(address);
    socket = current;
    heardAtMs = performance.now();
    watch();
    current.onmessage = (event: MessageEvent<unknown>) => {
      if (current !== socket || typeof event.data !== 'string') return;
      retryMs = RETRY_MS_MIN;
      heardAtMs = performance.now();
      const message = parse(event.data);
      if (message !== null) events.onMessage(message);
    };
    current.onclose = ({ code, reason }) => {
      if (current !== socket) return;
      if (code >= LIVE_CLOSE_OWN_MIN) events.onRefused(reason, code);
      if (FINAL_CODES.includes(code)) close();
      else retry();
    };
  }

  /** Looks again when the newest message will be too old: a timer set at every message would cost more than the message. */
  function watch(): void {
    const leftMs = heardAtMs + GIVE_UP_AFTER_MS - performance.now();
    if (leftMs > 0) timer = setTimeout(watch, leftMs);
    else retry();
  }

  function drop(): void {
    const old = socket;
    socket = null;
    old?.close();
  }

  function retry(): void {
    clearTimeout(timer);
    drop();
    if (closed) return;
    // Some scatter, so that a room of tablets does not come back in the same instant.
    timer = setTimeout(connect, retryMs * (0.75 + Math.random() / 2));
    retryMs = Math.min(RETRY_MS_MAX, retryMs * 2);
  }

  /** Back on the network or back on screen: no reason to wait any longer. */
  function hurry(): void {
    if (socket === null && !closed) connect();
  }

  window.addEventListener('online', hurry);
  document.addEventListener('visibilitychange', hurry);
  connect();
  return { close };

  function close(): void {
    closed = true;
    window.removeEventListener('online', hurry);
    document.removeEventListener('visibilitychange', hurry);
    clearTimeout(timer);
    drop();
  }
}

/** A frame that is not one of ours is left out; the heartbeat decides whether the feed still lives. */
function parse(text: string): LiveMessage | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === 'object' && value !== null && 'type' in value ? (value as LiveMessage) : null;
  } catch {
    return null;
  }
}
