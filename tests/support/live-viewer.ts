/** A dashboard in a test: keeps what the live socket sends. */
import { WebSocket } from 'ws';
import type { LiveMessage } from '../../shared/src/index.ts';
import { waitUntil } from './wait-until.ts';

export interface LiveViewer {
  socket: WebSocket;
  messages: LiveMessage[];
  /** Null while open. */
  closed: { code: number; reason: string } | null;
  /** The first message of the type that fits, from those that came or will come. */
  next<T extends LiveMessage['type']>(
    type: T,
    fits?: (message: Extract<LiveMessage, { type: T }>) => boolean,
  ): Promise<Extract<LiveMessage, { type: T }>>;
}

export function watchLive(socketUrl: string, athleteId: string): LiveViewer {
  const socket = new WebSocket(`${socketUrl}/live?athlete=${athleteId}`);
  const viewer: LiveViewer = {
    socket,
    messages: [],
    closed: null,
    next: (type, fits = () => true) =>
      waitUntil(`a ${type} message comes`, () => {
        const found = viewer.messages.find((message) => message.type === type && fits(message as never));
        return (found ?? null) as never;
      }),
  };
  socket.on('message', (data) => viewer.messages.push(JSON.parse(String(data))));
  socket.on('close', (code, reason) => (viewer.closed = { code, reason: String(reason) }));
  socket.on('error', () => undefined);
  return viewer;
}
