/** Hands WebSocket upgrades to ingest (sensors) and live (dashboards); anything else is refused. */
import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { LIVE_CLOSE } from '@ambipede/shared';
import { WebSocketServer } from 'ws';
import type { ViewerGate } from '../access/viewer-gate.ts';
import { acceptSensorSocket } from '../ingest/ingest-socket.ts';
import type { Ingest } from '../ingest/ingest.ts';
import { INGEST_SOCKET_OPTIONS } from '../ingest/limits.ts';
import { LIVE_SOCKET_OPTIONS, acceptViewerSocket } from '../live/live-socket.ts';
import type { LiveSocketDependencies } from '../live/live-socket.ts';
import { isId } from './schemas.ts';

const CLOSE_WAIT_MS = 500;

export interface Sockets {
  /** Who may see what has changed: looks at every open dashboard again. */
  recheckViewers(): void;
  /** Says goodbye to the dashboards; `ingest.close` does so to the sensors. */
  closeViewers(): void;
  /** Cuts whoever is still there. */
  terminateAll(): Promise<void>;
}

/** Who may open a socket: a sensor by the token of its hello (session/enrolments.ts), a dashboard by what `gate` says. */
export function installSockets(
  server: Server,
  ingest: Ingest,
  live: LiveSocketDependencies,
  gate: ViewerGate,
): Sockets {
  const rechecks = new Set<() => void>();
  const sensors = new WebSocketServer({ noServer: true, ...INGEST_SOCKET_OPTIONS });
  const viewers = new WebSocketServer({ noServer: true, ...LIVE_SOCKET_OPTIONS });
  server.on('upgrade', (request: IncomingMessage, socket: Duplex, head: Buffer) => {
    // Until ws takes over, an error here would end the process.
    socket.on('error', () => socket.destroy());
    const url = URL.canParse(request.url ?? '', 'ws://server') ? new URL(request.url ?? '', 'ws://server') : null;
    if (url?.pathname === '/ingest') {
      // Only browsers say from which page they come: no page is a sensor.
      if (request.headers.origin !== undefined) return refuse(socket, '403 Forbidden');
      sensors.handleUpgrade(request, socket, head, (ws) => acceptSensorSocket(ws, ingest));
    } else if (url?.pathname === '/live') {
      const athlete = url.searchParams.get('athlete') ?? '';
      admit(request, socket, head, isId(athlete) ? athlete : null).catch(() =>
        refuse(socket, '503 Service Unavailable'),
      );
    } else refuse(socket, '404 Not Found');
  });
  /** Whoever is not signed in is told on the socket, where a page can read it. */
  async function admit(
    request: IncomingMessage,
    socket: Duplex,
    head: Buffer,
    athleteId: string | null,
  ): Promise<void> {
    const admission = await gate.admit(request, athleteId);
    if (admission === 'other-origin') return refuse(socket, '403 Forbidden');
    viewers.handleUpgrade(request, socket, head, (ws) => {
      if (admission === 'not-signed-in') {
        ws.on('error', () => undefined);
        return ws.close(LIVE_CLOSE.notSignedIn, 'sign in first');
      }
      const recheck = acceptViewerSocket(ws, { athleteId, stillHolds: () => admission.stillHolds() }, live);
      rechecks.add(recheck);
      ws.on('close', () => rechecks.delete(recheck));
    });
  }
  return {
    recheckViewers: () => rechecks.forEach((recheck) => recheck()),
    closeViewers: () => {
      for (const ws of viewers.clients) ws.close(LIVE_CLOSE.serverStops, 'server stops');
    },
    terminateAll: async () => {
      const all = [...sensors.clients, ...viewers.clients];
      const deadline = Date.now() + CLOSE_WAIT_MS;
      while (Date.now() < deadline && all.some((ws) => ws.readyState !== ws.CLOSED)) {
        await new Promise((resolve) => setTimeout(resolve, 20));
      }
      for (const ws of all) ws.terminate();
    },
  };
}

function refuse(socket: Duplex, status: string): void {
  socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
}
