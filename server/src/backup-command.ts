/** npm run backup -- --out FILE */
import path from 'node:path';
import { parseArgs } from 'node:util';
import { backUp } from './backup/back-up.ts';
import { rowsInAll } from './backup/archive-format.ts';
import { refuseExisting } from './backup/archive-writer.ts';
import { reachBeside } from './backup/reach-database.ts';
import { runCommand, UsageError } from './backup/run-command.ts';
import { readConfig } from './config.ts';
import { describePlace } from './store/take-database.ts';

const USAGE = `Usage: npm run backup -- --out FILE

  Writes everything in the database to FILE, while the server runs or not. The database is that of DATA_DIR or
  DATABASE_URL, as for npm start. FILE holds names and movement data of people: keep it as you keep the data.`;

await runCommand(USAGE, async (signal) => {
  const { values } = parseArgs({ options: { out: { type: 'string' } } });
  if (!values.out) throw new UsageError();
  const file = path.resolve(values.out);
  refuseExisting(file);
  const config = readConfig();
  const database = await reachBeside(config);
  try {
    const summary = await backUp(database.url, file, signal);
    return (
      `${rowsInAll(summary)} rows in ${Object.keys(summary.rows).length} tables of ${describePlace(config)} are in ${file}, ` +
      'which was read back. It holds everything: names, movement data, annotations.'
    );
  } finally {
    await database.close();
  }
});
