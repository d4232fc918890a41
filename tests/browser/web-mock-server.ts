/** A server for tests of the pages alone: it serves the built pages, answers what it is told to, and sends live messages. */
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { LIVE_CLOSE, type LiveMessage, type Me } from '@ambipede/shared';
import { WebSocketServer } from 'ws';

const DIST = fileURLToPath(new URL('../../web/dist', import.meta.url));
const TYPES: Record<string, string> = {
  '.html': 'text/html',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.svg': 'image/svg+xml',
};

/** Whoever opens a page may do everything, as in the demonstration without accounts. */
export const OPEN_DEMO: Me = {
  access: 'open',
  accountId: null,
  name: '',
  roles: ['keeper', 'coach', 'physio'],
  athleteId: null,
  passwordIsFirst: false,
  secondFactor: 'off',
};

export interface MockServer {
  address: string;
  /** Answers by `METHOD /path`; without one the answer is 404. */
  answers: Map<string, unknown>;
  /** Sent with the page itself. */
  pageHeaders: Record<string, string>;
  /** Errors by `METHOD /path`, before any answer. */
  refusals: Map<string, { status: number; code: string; message: string }>;
  /** Sent to every page that connects. */
  greeting: () => LiveMessage[];
  send: (message: LiveMessage) => void;
  /** Heartbeats go out as long as this is true. */
  beating: boolean;
  /** Refuses every page that connects, as for an athlete that does not exist, with this reason. */
  refusal: string | null;
  /** How many pages have connected so far. */
  connections: number;
  close: () => Promise<void>;
}

export async function startMockServer(): Promise<MockServer> {
  if (!existsSync(join(DIST, 'index.html'))) throw new Error('web/dist is missing: run `npm run build` first.');
  const http = createServer((request, response) => {
    const path = new URL(request.url ?? '/', 'http://mock').pathname;
    const reply = (status: number, type: string, body: string | Buffer) => {
      response.writeHead(status, { 'content-type': type, ...(type === 'text/html' && mock.pageHeaders) });
      response.end(body);
    };
    const refused = mock.refusals.get(`${request.method} ${path}`);
    if (refused !== undefined) {
      const { status, ...error } = refused;
      return reply(status, 'application/json', JSON.stringify({ error }));
    }
    const answer = mock.answers.get(`${request.method} ${path}`);
    if (answer !== undefined) return reply(200, 'application/json', JSON.stringify(answer));
    if (path.startsWith('/api/')) {
      const error = { code: 'no-answer', message: `The mock has no answer for ${path}.` };
      return reply(404, 'application/json', JSON.stringify({ error }));
    }
    const file = path === '/' ? '/index.html' : path;
    readFile(join(DIST, file)).then(
      (bytes) => reply(200, TYPES[extname(file)] ?? 'application/octet-stream', bytes),
      () => reply(404, 'text/plain', ''),
    );
  });
  const sockets = new WebSocketServer({ server: http, path: '/live' });
  const mock: MockServer = {
    address: '',
    answers: new Map([['GET /api/me', OPEN_DEMO]]),
    pageHeaders: {},
    refusals: new Map(),
    greeting: () => [],
    beating: true,
    refusal: null,
    connections: 0,
    send(message) {
      for (const socket of sockets.clients) socket.send(JSON.stringify(message));
    },
    async close() {
      clearInterval(beat);
      for (const socket of sockets.clients) socket.terminate();
      sockets.close();
      http.closeAllConnections();
      await new Promise((done) => http.close(done));
    },
  };
  sockets.on('connection', (socket) => {
    mock.connections += 1;
    if (mock.refusal !== null) return socket.close(LIVE_CLOSE.noSuchAthlete, mock.refusal);
    for (const message of mock.greeting()) socket.send(JSON.stringify(message));
  });
  const beat = setInterval(() => {
    if (mock.beating) mock.send({ type: 'heartbeat', serverUtcMs: Date.now() });
  }, 200);
  await new Promise<void>((done) => http.listen(0, '127.0.0.1', done));
  mock.address = `http://127.0.0.1:${(http.address() as AddressInfo).port}`;
  return mock;
}
