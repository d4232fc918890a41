/** Joins one WebSocket of a dashboard to the fan-out. */
import type { WebSocket } from 'ws';
import { LIVE_CLOSE, type LiveMessage } from '@ambipede/shared';
import type { LiveFanout, Viewer } from './live-fanout.ts';

export const VIEWERS_MAX = 500;
/** A viewer that does not answer the close is torn down after this long. */
const CLOSE_WAIT_MS = 2000;
/**
 * A dashboard is asked this often whether it is still there (RFC 6455, 5.5.2); browsers answer by themselves, in the order of
 * what they have read. The operating systems' buffers hold minutes of the feed: only the answer tells who reads it.
 */
export const PING_EVERY_MS = 5000;
/** One whose answer takes longer is behind by as much, or gone. */
export const PONG_WAIT_MS_MAX = 10_000;
/** Dashboards send nothing; what they send is not read further than this. */
export const LIVE_SOCKET_OPTIONS = { maxPayload: 1024, perMessageDeflate: false } as const;

/** An open feed is checked again this often, and whenever accounts, carers or consents change. */
export const RECHECK_EVERY_MS = 15_000;

export interface LiveSocketDependencies {
  fanout: LiveFanout;
  /** Everything that a dashboard needs to begin with. */
  snapshot(athleteId: string): LiveMessage[];
  pingEveryMs?: number;
  pongWaitMsMax?: number;
}

export interface AdmittedViewer {
  athleteId: string | null;
  /** False when the viewer may not see the athlete, or no longer. Rejects while that cannot be found out. */
  stillHolds(): Promise<boolean>;
}

/**
 * Call it in the same turn in which the socket opened.
 * @returns looks again whether the viewer may still see the athlete, and closes the socket if not
 */
export function acceptViewerSocket(
  socket: WebSocket,
  { athleteId, stillHolds }: AdmittedViewer,
  deps: LiveSocketDependencies,
): () => void {
  const { pingEveryMs = PING_EVERY_MS, pongWaitMsMax = PONG_WAIT_MS_MAX } = deps;
  let unsubscribe = (): void => undefined;
  let pingedMs: number | null = null;
  const ping = setInterval(() => {
    if (pingedMs !== null || socket.readyState !== socket.OPEN) return;
    pingedMs = performance.now();
    socket.ping();
  }, pingEveryMs);
  socket.on('pong', () => (pingedMs = null));
  const viewer: Viewer = {
    get bufferedAmount() {
      return socket.bufferedAmount;
    },
    get isBehind() {
      return pingedMs !== null && performance.now() - pingedMs > pongWaitMsMax;
    },
    send: (text) => {
      if (socket.readyState === socket.OPEN) socket.send(text);
    },
    cutOff: (code, reason) => {
      unsubscribe();
      socket.close(code, reason);
      setTimeout(() => socket.terminate(), CLOSE_WAIT_MS).unref();
    },
  };
  const recheck = (): void => {
    stillHolds().then(
      (holds) => {
        if (!holds) viewer.cutOff(LIVE_CLOSE.notAllowed, 'you may no longer see this athlete');
      },
      // Nobody is cut off because the database is away for a moment: the next look is soon.
      () => undefined,
    );
  };
  const looking = setInterval(recheck, RECHECK_EVERY_MS);
  socket.on('close', () => {
    clearInterval(ping);
    clearInterval(looking);
    unsubscribe();
  });
  // 'close' follows; there is nobody to tell.
  socket.on('error', () => undefined);

  const begin = async (): Promise<void> => {
    if (athleteId === null || !(await stillHolds())) {
      return viewer.cutOff(LIVE_CLOSE.noSuchAthlete, 'there is no such athlete: open the roster');
    }
    if (deps.fanout.viewerCount >= VIEWERS_MAX) {
      return viewer.cutOff(LIVE_CLOSE.tooManyViewers, 'too many dashboards are open: close some');
    }
    if (socket.readyState !== socket.OPEN) return;
    for (const message of deps.snapshot(athleteId)) viewer.send(JSON.stringify(message));
    unsubscribe = deps.fanout.subscribe(athleteId, viewer);
  };
  begin().catch(() => viewer.cutOff(1011, 'the database does not answer: connect again'));
  return recheck;
}
