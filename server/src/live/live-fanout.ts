/** Hands live messages to the dashboards of an athlete. A slow dashboard loses angles first, then its connection. */
import { LIVE_CLOSE, type LiveMessage } from '@ambipede/shared';

/** Unsent bytes beyond which angles are left out: what follows is newer anyway. */
export const ANGLES_UNSENT_BYTES_MAX = 64 * 1024;
/** Unsent bytes beyond which the dashboard is cut off; it connects again and gets the state as it is then. */
export const UNSENT_BYTES_MAX = 1024 * 1024;

export interface Viewer {
  /** Bytes given to `send` that have not left this process. */
  readonly bufferedAmount: number;
  /** It has not answered for too long: it reads far behind, or is gone. */
  readonly isBehind: boolean;
  send(text: string): void;
  cutOff(code: number, reason: string): void;
}

export class LiveFanout {
  readonly #viewers = new Map<string, Set<Viewer>>();
  #count = 0;

  get viewerCount(): number {
    return this.#count;
  }

  hasViewers(athleteId: string): boolean {
    return this.#viewers.has(athleteId);
  }

  /** Returns what ends the subscription; calling that twice does no harm. */
  subscribe(athleteId: string, viewer: Viewer): () => void {
    const viewers = this.#viewers.get(athleteId) ?? new Set();
    this.#viewers.set(athleteId, viewers);
    viewers.add(viewer);
    this.#count += 1;
    return () => {
      if (!viewers.delete(viewer)) return;
      this.#count -= 1;
      if (viewers.size === 0 && this.#viewers.get(athleteId) === viewers) this.#viewers.delete(athleteId);
    };
  }

  publish(athleteId: string, message: LiveMessage): void {
    const viewers = this.#viewers.get(athleteId);
    if (!viewers) return;
    const text = JSON.stringify(message);
    for (const viewer of viewers) offer(viewer, message.type, text);
  }

  /** The same to everybody, whichever athlete they watch. */
  publishToAll(message: LiveMessage): void {
    const text = JSON.stringify(message);
    for (const viewers of this.#viewers.values()) for (const viewer of viewers) offer(viewer, message.type, text);
  }
}

function offer(viewer: Viewer, type: LiveMessage['type'], text: string): void {
  if (viewer.bufferedAmount > UNSENT_BYTES_MAX || viewer.isBehind)
    viewer.cutOff(LIVE_CLOSE.tooSlow, 'too slow: connect again');
  else if (type !== 'angles' || viewer.bufferedAmount <= ANGLES_UNSENT_BYTES_MAX) viewer.send(text);
}
