/** Joins one WebSocket to ingest. The only file here that knows sockets and their timers. */
import type { RawData, WebSocket } from 'ws';
import { Connection } from './connection.ts';
import type { Ingest } from './ingest.ts';
import { CLOSE_WAIT_MS, HELLO_WAIT_MS, SILENCE_MS, UNREAD_BYTES_MAX } from './limits.ts';

/** Call it in the same turn in which the socket opened; all handlers are on when it returns. */
export function acceptSensorSocket(socket: WebSocket, ingest: Ingest): void {
  const connection = new Connection(
    {
      send(frame) {
        // A device that does not read its answers is cut off below; until then they are kept for it.
        if (socket.readyState === socket.OPEN) socket.send(frame, { binary: true }, ignoreSendError);
      },
      close(code, reason) {
        socket.close(code, reason);
        setTimeout(() => socket.terminate(), CLOSE_WAIT_MS).unref();
      },
    },
    ingest,
  );

  const helloTimer = setTimeout(() => {
    if (connection.phase === 'waiting') connection.fail('hello-late', `No hello within ${HELLO_WAIT_MS} ms.`);
  }, HELLO_WAIT_MS);
  let tickTimer = setTimeout(tick, 0);

  function tick(): void {
    if (connection.phase === 'closed') return;
    if (socket.bufferedAmount > UNREAD_BYTES_MAX) connection.fail('too-slow', 'Answers are not being read.');
    else if (ingest.nowUtcMs() - connection.lastFrameUtcMs > SILENCE_MS) {
      connection.fail('silent', `Nothing came for ${SILENCE_MS} ms.`);
    }
    tickTimer = setTimeout(tick, connection.requestTime());
  }

  socket.on('message', (data: RawData, isBinary: boolean) => connection.takeFrame(bytesOf(data), isBinary));
  // ws reports a breach of the WebSocket protocol or of maxPayload here and closes with its own code.
  socket.on('error', (error) => ingest.onSocketError(connection, error));
  socket.on('close', () => {
    clearTimeout(helloTimer);
    clearTimeout(tickTimer);
    connection.phase = 'closed';
    ingest.onDisconnect(connection);
  });
  ingest.onConnect(connection);
}

function bytesOf(data: RawData): Uint8Array {
  if (Array.isArray(data)) return Buffer.concat(data);
  return data instanceof ArrayBuffer ? new Uint8Array(data) : data;
}

/** A failed send is followed by 'close', which is where it is dealt with. */
function ignoreSendError(): void {}
