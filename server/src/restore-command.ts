/** npm run restore -- FILE */
import path from 'node:path';
import { parseArgs } from 'node:util';
import { rowsInAll } from './backup/archive-format.ts';
import { verifyArchive } from './backup/archive-reader.ts';
import { reachAlone } from './backup/reach-database.ts';
import { planFor, restore } from './backup/restore.ts';
import { runCommand, UsageError } from './backup/run-command.ts';
import { readConfig } from './config.ts';
import { describePlace } from './store/take-database.ts';

const USAGE = `Usage: npm run restore -- FILE

  Puts a backup into an empty database: that of DATA_DIR, which is made when it is not there, or that of DATABASE_URL.
  No server may run on it. It is all or nothing.`;

await runCommand(USAGE, async (signal) => {
  const { positionals } = parseArgs({ allowPositionals: true });
  const [name] = positionals;
  if (name === undefined || positionals.length > 1) throw new UsageError();
  const file = path.resolve(name);
  const config = readConfig();
  // Before anything is touched: a file that is not whole leaves no trace.
  planFor(file, (await verifyArchive(file)).header);
  const lost = new AbortController();
  const database = await reachAlone(config, (problem) => lost.abort(new Error(problem)));
  try {
    const where = describePlace(config);
    const summary = await restore(database.url, file, where, AbortSignal.any([signal, lost.signal]));
    return `${rowsInAll(summary)} rows in ${Object.keys(summary.rows).length} tables are in ${where}. Start the server and look at the roster.`;
  } finally {
    await database.close();
  }
});
