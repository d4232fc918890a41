/** Hands WebSocket upgrades to ingest (sensors) and live (dashboards); anything else is refused. */
import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { LIVE_CLOSE } from '@ambipede/shared';
import { WebSocketServer } from 'ws';
import { acceptSensorSocket } from '../ingest/ingest-socket.ts';
import type { Ingest } from '../ingest/ingest.ts';
import { INGEST_SOCKET_OPTIONS } from '../ingest/limits.ts';
import { LIVE_SOCKET_OPTIONS, acceptViewerSocket } from '../live/live-socket.ts';
import type { LiveSocketDependencies } from '../live/live-socket.ts';
import { isId } from './schemas.ts';

const CLOSE_WAIT_MS = 500;

export interface Sockets {
  /** Says goodbye to the dashboards; `ingest.close` does so to the sensors. */
  closeViewers(): void;
  /** Cuts whoever is still there. */
  terminateAll(): Promise<void>;
}

export function installSockets(server: Server, ingest: Ingest, live: LiveSocketDependencies): Sockets {
  const sensors = new WebSocketServer({ noServer: true, ...INGEST_SOCKET_OPTIONS });
  const viewers = new WebSocketServer({ noServer: true, ...LIVE_SOCKET_OPTIONS });
  server.on('upgrade', (request: IncomingMessage, socket: Duplex, head: Buffer) => {
    // Until ws takes over, an error here would end the process.
    socket.on('error', () => socket.destroy());
    const url = URL.canParse(request.url ?? '', 'ws://server') ? new URL(request.url ?? '', 'ws://server') : null;
    if (url?.pathname === '/ingest') {
      sensors.handleUpgrade(request, socket, head, (ws) => acceptSensorSocket(ws, ingest));
    } else if (url?.pathname === '/live') {
      const athlete = url.searchParams.get('athlete') ?? '';
      viewers.handleUpgrade(request, socket, head, (ws) =>
        acceptViewerSocket(ws, isId(athlete) ? athlete : null, live),
      );
    } else {
      socket.end('HTTP/1.1 404 Not Found\r\nConnection: close\r\nContent-Length: 0\r\n\r\n');
    }
  });
  return {
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
