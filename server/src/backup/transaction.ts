/** One transaction on a connection of its own, for as long as it takes. */
import postgres from 'postgres';
import type { TransactionSql } from 'postgres';

const CONNECT_WAIT_S_MAX = 10;
const CLOSE_WAIT_S_MAX = 5;
/** A copy that is left in the middle can stop the driver from reading the answer to ROLLBACK. */
const ROLLBACK_WAIT_MS_MAX = 2000;

/** What the text of a value looks like must not depend on how a server or a role is set. */
const SETTINGS = `
  set local statement_timeout = 0;
  set local idle_in_transaction_session_timeout = 0;
  set local search_path = public;
  set local client_encoding = 'UTF8';
  set local bytea_output = 'hex';
  set local extra_float_digits = 1;
  set local datestyle = 'ISO, YMD';
  set local intervalstyle = 'iso_8601';
  set local timezone = 'UTC'`;

/** @param mode what follows BEGIN */
export async function inTransaction<T>(
  url: string,
  purpose: 'backup' | 'restore',
  mode: string,
  work: (tx: TransactionSql) => Promise<T>,
): Promise<T> {
  const sql = postgres(url, {
    max: 1,
    idle_timeout: 0,
    max_lifetime: null,
    connect_timeout: CONNECT_WAIT_S_MAX,
    onnotice: () => undefined,
    connection: { application_name: `ambipede ${purpose} ${process.pid}` },
  });
  let failure: unknown = null;
  let onFailure = (): void => undefined;
  let giveUp: NodeJS.Timeout | undefined;
  const stuck = new Promise<never>((_, reject) => {
    onFailure = () => (giveUp = setTimeout(reject, ROLLBACK_WAIT_MS_MAX));
  });
  try {
    const done = sql.begin(mode, async (tx) => {
      try {
        await tx.unsafe(SETTINGS);
        return await work(tx);
      } catch (error) {
        failure = error;
        onFailure();
        throw error;
      }
    });
    return (await Promise.race([done, stuck])) as T;
  } catch (error) {
    // Amid a copy the driver refuses to roll back, and says that instead of what went wrong.
    throw failure ?? error;
  } finally {
    clearTimeout(giveUp);
    // Without its connection the transaction has not been.
    await sql.end({ timeout: failure === null ? CLOSE_WAIT_S_MAX : 0 });
  }
}
