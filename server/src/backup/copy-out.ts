/** The rows of a table in the text format of COPY, and a connection that can be used again however the reading ended. */
import type { TransactionSql } from 'postgres';
import type { Table } from '../store/migration-list.ts';

export async function* copyOut(tx: TransactionSql, { name, columns }: Table): AsyncGenerator<Buffer> {
  const query = tx`copy ${tx(name)} (${tx(columns)}) to stdout`;
  const rows = await query.readable();
  try {
    // Not destroyed when the reader leaves: the driver would then stop reading from the server, and never go on.
    yield* rows.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>;
  } finally {
    if (rows.readableEnded) {
      // The driver pauses its socket for a full stream, and only a stream that still runs starts it again.
      rows._read(0);
    } else {
      rows.on('error', ignore);
      rows.resume();
      query.cancel();
    }
  }
}

/** The server's word that the copy was cancelled, which is what was asked for. */
function ignore(): void {}
